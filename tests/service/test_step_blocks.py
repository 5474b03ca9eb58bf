"""Step blocks over HTTP: what is said of them in answers, instructions, drawings and records."""

import csv
import io

import pytest

from service.bodies import Json
from service.conftest import Client
from wrung import mm
from wrung_service.api.bench.single_blocks import figures_of, read_blocks


def request(*lengths: str, **members: object) -> Json:
    """Stacks from a step block of 1 to 3 mm, and blocks of 10 and 20 mm."""
    steps = [
        {"id": f"T7/{n}", "nominal": str(n), "limit_deviation": "0.2", "body": "T7"}
        for n in (1, 2, 3)
    ]
    plain = [{"id": str(n), "nominal": str(n), "limit_deviation": "0.2"} for n in (10, 20)]
    targets = [{"ref": f"t{k}", "kind": "length", "length": n} for k, n in enumerate(lengths)]
    return {"unit": "mm", "blocks": [*plain, *steps], "targets": targets, **members}


def test_an_answer_and_its_record_name_the_step_block(client: Client) -> None:
    sent = request("13", record=True)
    answer = client.post("/v1/stacks", json=sent).json()

    (stack,) = answer["stacks"]
    assert [block.get("body") for block in stack["blocks"]] == [None, "T7"]
    assert [b.get("body") for b in answer["record"]["stacks"][0]["blocks"]] == [None, "T7"]
    check = client.post("/v1/stack-checks", json={"record": answer["record"]}).json()
    assert check["holds"], check
    # The document says that null may stand in a record, and what it means is what leaving out does.
    for block in answer["record"]["stacks"][0]["blocks"]:
        block.setdefault("body", None)
    again = client.post("/v1/stack-checks", json={"record": answer["record"]}).json()
    assert again["holds"], again
    table = client.post("/v1/stacks", json=sent, headers={"Accept": "text/csv"}).text
    assert [row["body"] for row in csv.DictReader(io.StringIO(table))] == ["", "T7"]


@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", ("by its foot", "The length ends on the step 3 mm (T7)", "step")),
        ("de", ("mit seinem Fuß", "Das Maß endet auf der Stufe 3 mm (T7)", "Stufe")),
    ],
)
def test_how_it_is_wrung_and_drawn(client: Client, language: str, said: tuple[str, ...]) -> None:
    foot, end, drawn = said
    sent = request("13", language=language, handwork=True)

    (work,) = client.post("/v1/stacks", json=sent).json()["handwork"]
    drawing = client.post("/v1/stacks", json=sent, headers={"Accept": "image/svg+xml"}).text

    steps = [step["text"] for step in work["steps"]]
    assert [foot in step for step in steps].index(True) + 1 == [end in s for s in steps].index(True)
    assert f">{drawn}<" in drawing
    card = client.post("/v1/cards", json=sent, headers={"Accept": "text/html"}).text
    assert f"{drawn} {'of' if language == 'en' else 'von'} T7" in card


@pytest.mark.parametrize(
    ("language", "said"),
    [("en", "onto the foot of the step block"), ("de", "an den Fuß des Stufenendmaßes")],
)
def test_a_wear_block_goes_onto_the_foot_of_a_lone_step_block(
    client: Client, language: str, said: str
) -> None:
    sent = request(language=language, handwork=True)
    sent["blocks"].append({"id": "w", "nominal": "2", "limit_deviation": "0.2", "role": "wear"})
    sent["targets"] = [{"ref": "t", "kind": "length", "length": "5", "wear_blocks": "one"}]

    (work,) = client.post("/v1/stacks", json=sent).json()["handwork"]

    assert any(said in step["text"] for step in work["steps"])


def test_check_points_a_step_apart_need_no_wringing(client: Client) -> None:
    points = {"ref": "m", "kind": "check_points", "points": ["11", "12", "13"]}
    sent = request(handwork=True) | {"targets": [points]}

    answer = client.post("/v1/stacks", json=sent).json()

    assert answer["changes"]["block_changes"] == 0
    first, *others = [
        [step["text"] for step in work["steps"] if step["phase"] == "wring"]
        for work in answer["handwork"]
    ]
    assert any("by its foot" in text for text in first)
    assert [len(texts) for texts in others] == [1, 1]
    taken = next(s for s in answer["handwork"][0]["steps"] if s["phase"] == "fetch")
    # One thing to take out of the case, whichever of its steps come into use.
    assert taken["text"].count("T7") == 1


def test_what_is_wrong_with_one_is_said_in_german(client: Client) -> None:
    sent = request("13")
    sent["blocks"] += [
        {"id": "more", "nominal": "3", "grade": "1", "body": "T7"},
        {"id": "w", "nominal": "2", "grade": "1", "body": "T7", "role": "wear"},
    ]

    refused = client.post("/v1/stacks", json=sent, headers={"Accept-Language": "de"}).json()

    assert {each["pointer"]: each["detail"] for each in refused["errors"]} == {
        "/blocks/5/nominal": "sein Stufenendmaß hat schon eine Stufe dieser Länge",
        "/blocks/6/body": "ein Schutzendmaß ist keine Stufe eines Stufenendmaßes",
        "/blocks/6/nominal": "sein Stufenendmaß hat schon eine Stufe dieser Länge",
    }


def test_a_table_on_the_page_has_step_blocks() -> None:
    """As a spreadsheet writes it."""
    rows = read_blocks("nominal,grade,body\n1,1,T7\n2,1,T7\n", "mm")

    assert [figures_of(row)["body"] for row in rows] == ["T7", "T7"]
    assert mm(rows[1].partition(";")[0]) == mm("2")
