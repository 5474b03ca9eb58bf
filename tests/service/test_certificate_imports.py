"""``POST /v1/certificate-imports``: certificates in three forms, blocks in one."""

import json
import re
from importlib.resources import files
from pathlib import Path

import pytest

from service.bodies import Json, pointers, problem_name, target
from service.conftest import Client

EXAMPLES = files("wrung_service.api").joinpath("examples")
PUBLISHED = Path(__file__).parents[1] / "reference" / "certificates" / "published"
PATH = "/v1/certificate-imports"
CSV = EXAMPLES.joinpath("certificate.csv").read_bytes()
JSON = EXAMPLES.joinpath("certificate.json").read_bytes()
XML = EXAMPLES.joinpath("certificate.xml").read_bytes()


def send(client: Client, body: bytes, media_type: str, query: str = "") -> Json:
    response = client.post(PATH + query, content=body, headers={"Content-Type": media_type})
    assert response.status_code == 200, response.text
    return dict(response.json())


def test_json_and_csv_say_the_same(client: Client) -> None:
    from_json, from_csv = send(client, JSON, "application/json"), send(client, CSV, "text/csv")

    assert (from_json["format"], from_csv["format"]) == ("json", "csv")
    assert from_json["blocks"] == from_csv["blocks"]


@pytest.mark.parametrize(
    ("body", "read"), [(JSON, "json"), (CSV, "csv"), (XML, "dcc"), (b"\xef\xbb\xbf" + XML, "dcc")]
)
def test_a_plain_file_is_told_by_how_it_begins(client: Client, body: bytes, read: str) -> None:
    """For generated clients that know neither CSV nor XML."""
    assert send(client, body, "application/octet-stream")["format"] == read


def test_a_digital_calibration_certificate(client: Client) -> None:
    found = send(client, XML, "application/xml", "?due_on=2027-03-31")

    (block,) = found["blocks"]
    assert (block["id"], block["nominal"], block["deviation"]) == ("A 4711", "50", "0.043")
    assert block["calibration"]["certificate"] == "LC-2026-0101"
    assert block["calibration"]["due_on"] == "2027-03-31"
    assert found["remarks"] == []
    without = send(client, XML, "application/xml")
    assert [remark["location"] for remark in without["remarks"]] == ["the due date"]


@pytest.mark.parametrize(
    ("body", "media_type"), [(JSON, "application/json"), (CSV, "text/csv; charset=utf-8")]
)
def test_what_comes_back_can_be_planned_with(client: Client, body: bytes, media_type: str) -> None:
    blocks = send(client, body, media_type)["blocks"]

    answer = client.post(
        "/v1/stacks",
        json={
            "unit": "mm",
            "blocks": blocks,
            "targets": [target("op1", "26.005")],
            "conditions": {"used_on": "2026-11-25"},
        },
    ).json()

    assert answer["outcome"] == "optimal"
    assert answer["stacks"][0]["deviation"] == "-0.017"


def test_inches(client: Client) -> None:
    body = b"id,nominal,deviation,expanded_uncertainty\na,0.1001,1.5,2\n"

    (block,) = send(client, body, "text/csv", "?unit=in")["blocks"]

    assert (block["unit"], block["nominal"], block["deviation"]) == ("in", "0.1001", "1.5")


@pytest.mark.parametrize(
    "body",
    [
        (
            b"id;nominal;unit;deviation;expanded_uncertainty;coverage_factor;degrees_of_freedom\n"
            b"a;1,5;in;-1,2;2,57;2,57;5\n"
        ),
        (
            b"id,nominal,deviation,expanded_uncertainty,coverage_factor,degrees_of_freedom\n"
            b"a,1.5,-1.2,2.57,2.57,5\n"
        ),
    ],
    ids=["commas", "points"],
)
def test_an_inch_certificate_with_another_factor_comes_through_to_a_budget(
    client: Client, body: bytes
) -> None:
    """Student's t for 5 degrees of freedom: 2.57 for 95 %, 2.65 for 95.45 % (GUM, table G.2).

    2.57 µin are no whole number of 0.01 nm and are rounded up.
    """
    blocks = send(client, body, "text/csv", "?unit=in")["blocks"]
    request = {"unit": "in", "blocks": blocks, "targets": [target("op1", "1.5")], "budget": "table"}

    (stack,) = client.post("/v1/stacks", json=request).json()["stacks"]

    budget = stack["budget"]
    assert stack["deviation"] == "-1.2"
    assert round(float(budget["standard_uncertainty"]), 2) == 1
    assert round(budget["coverage_factor"], 2) == 2.65
    assert round(float(budget["corrected"]["expanded_uncertainty"]), 2) == 2.65


def test_what_is_ignored_is_told(client: Client) -> None:
    body = CSV.replace(b"laboratory", b"remark", 1)

    found = send(client, body, "text/csv")

    assert [remark["location"] for remark in found["ignored"]] == ["column 'remark'"]


def test_a_refused_certificate_names_every_place(client: Client) -> None:
    document = json.loads(JSON)
    document["blocks"][0]["deviation"] = "0,034"
    document["blocks"][1]["nominal"] = "x"

    response = client.post(PATH, json=document)

    assert response.status_code == 422
    assert problem_name(response) == "invalid-certificate"
    assert pointers(response) == ["/blocks/0/deviation", "/blocks/1/nominal"]


@pytest.mark.parametrize(
    ("body", "media_type", "detail"),
    [
        (CSV.replace(b"0.034", b'"0,034"'), "text/csv", "decimal comma"),
        (b"<!DOCTYPE a><a/>", "application/xml", "document type"),
        (b"", "application/xml", "not well-formed"),
        (b"", "text/csv", "no column id"),
        (b"{", "application/json", "is not JSON"),
        (b"\xff", "application/json", "is not JSON"),
    ],
)
def test_why_is_said(client: Client, body: bytes, media_type: str, detail: str) -> None:
    response = client.post(PATH, content=body, headers={"Content-Type": media_type})

    assert response.status_code == 422
    assert detail in response.json()["detail"]


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"idx,nominal\n",
        b"id,nominal,deviation\n1,2,3,4\n",
        b"id;nominal;deviation;expanded_uncertainty\na;1.000,5;-0,110;0.05\n",
        *(path.read_bytes() for path in sorted(PUBLISHED.glob("*.xml"))),
    ],
)
def test_why_is_said_in_german_to_its_last_word(client: Client, body: bytes) -> None:
    media_type = "application/xml" if body.startswith(b"<") else "text/csv"
    headers = {"Content-Type": media_type, "Accept-Language": "de"}
    problem = client.post(PATH, content=body, headers=headers).json()

    for said in (problem["detail"], *(each["detail"] for each in problem["errors"])):
        plain = re.sub("'[^']*'", "", said)
        assert not re.search(r"\b(the|is|has|no|and|line|where|of)\b", plain, re.IGNORECASE), said


def test_other_media_types_are_refused(client: Client) -> None:
    response = client.post(PATH, content=CSV, headers={"Content-Type": "text/plain"})

    assert response.status_code == 415
    assert (
        response.headers["accept-post"]
        == "application/json, text/csv, application/xml, application/octet-stream"
    )


@pytest.mark.parametrize(
    ("query", "problem"),
    [
        ("unit=ft", "invalid-parameter"),
        ("due_on=20270331", "invalid-parameter"),
        ("due_on=2027-W13-3", "invalid-parameter"),
        ("due_on=2027-02-30", "invalid-parameter"),
        ("unit=mm&unit=in", "unknown-parameter"),
        ("units=mm", "unknown-parameter"),
    ],
)
def test_query_parameters_are_checked(client: Client, query: str, problem: str) -> None:
    response = client.post(f"{PATH}?{query}", content=CSV, headers={"Content-Type": "text/csv"})

    assert response.status_code == 400
    assert problem_name(response) == problem


def test_certificates_larger_than_the_limit_are_refused(client: Client) -> None:
    response = client.post(PATH, content=b" " * 1_048_577, headers={"Content-Type": "text/csv"})

    assert response.status_code == 413
