"""What is said of records, certificates and inventories, to whoever prefers German."""

import copy
import json
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from service.bodies import Json
from service.conftest import Client, Run
from service.refusals import sentences as refusals
from service.test_german_problems import ELSEWHERE, GERMAN, is_english
from service.test_languages import ENGLISH, words
from wrung_service.api.german import german

EXAMPLES = files("wrung_service.api").joinpath("examples")
RECORD = json.loads(EXAMPLES.joinpath("record-check-request.json").read_text("utf-8"))
QUOTED = "'x'"
OUTSIDE = (
    b"id,nominal,deviation,expanded_uncertainty,grade,variation,colour\na,10,0.91,0.05,K,0.44,red\n"
)


def turned_over(record: Json) -> None:
    blocks = record["stacks"][0]["blocks"]
    blocks[0], blocks[1] = blocks[1], blocks[0]


def twice(record: Json) -> None:
    blocks = record["stacks"][0]["blocks"]
    blocks.append(dict(blocks[-1]))


def without_a_block(record: Json) -> None:
    record["stacks"][0]["blocks"].pop()


def answered_twice(record: Json) -> None:
    record["stacks"].append(copy.deepcopy(record["stacks"][0]))


def of_no_block(record: Json) -> None:
    record["stacks"][0]["blocks"][0]["id"] = "nothing"


def in_no_unit(record: Json) -> None:
    record["request"]["unit"] = "ft"


def other_figure(record: Json) -> None:
    record["stacks"][0]["worst_case_error"] = "1.5"
    record["request_sha256"] = "0" * 64


@pytest.mark.parametrize(
    "spoil",
    [
        turned_over, twice, without_a_block, answered_twice, of_no_block, in_no_unit, other_figure
    ],
)  # fmt: skip
def test_findings_of_a_record_are_said_in_german(
    client: Client, spoil: Callable[[Json], None]
) -> None:
    sent = copy.deepcopy(RECORD)
    spoil(sent["record"])
    english, german, swayed = (
        client.post("/v1/stack-checks", json=sent, headers=headers)
        for headers in ({"Accept-Language": "en"}, GERMAN, {"Accept-Language": "de"})
    )
    said, before = german.json()["findings"], english.json()["findings"]

    assert before
    assert german.json() == swayed.json()
    assert "Accept-Language" in german.headers["Vary"]
    assert [each["pointer"] for each in said] == [each["pointer"] for each in before]
    for each in said:
        names = {stack["target"] for stack in sent["record"]["stacks"]}
        assert not is_english(without(each["detail"], names)), each
    assert not {each["detail"] for each in said} & {each["detail"] for each in before}


def without(text: str, names: set[str]) -> str:
    for name in names:
        text = text.replace(name, "")
    return text


def test_a_german_record_is_checked_in_german(client: Client) -> None:
    """Unless whoever asks prefers English."""
    sent = copy.deepcopy(RECORD)
    sent["record"]["request"]["language"] = "de"
    asked: tuple[dict[str, str], ...] = ({}, {"Accept-Language": "en"})
    said, english = (
        client.post("/v1/stack-checks", json=sent, headers=headers).json()["findings"]
        for headers in asked
    )

    assert said[0]["detail"] == "ist nicht der Hash der Anfrage daneben"
    assert english[0]["detail"] == "is not the hash of the request beside it"


def test_whatever_is_wrong_on_a_line_is_said_in_german() -> None:
    """Also where that has commas and colons of its own."""
    said = [text for where, text in refusals() if "metrology/certificates" in where]
    found = [
        german(f"{place} {text.replace('{}', QUOTED).removesuffix('.')}")
        for text in said
        if text not in ELSEWHERE and " " in text
        for place in ("line 4", "line 4, deviation", "line 4, deviation:")
    ]

    assert len(found) > 100
    assert [text for text in found if is_english(text) or "line" in text] == []


@pytest.mark.parametrize(
    ("body", "media_type"),
    [
        (OUTSIDE, "text/csv"),
        (EXAMPLES.joinpath("certificate.xml").read_bytes(), "application/xml"),
    ],
)
def test_remarks_on_certificates_are_said_in_german(
    client: Client, body: bytes, media_type: str
) -> None:
    answer = client.post(
        "/v1/certificate-imports", content=body, headers={"Content-Type": media_type, **GERMAN}
    )
    found = answer.json()
    remarks = [*found["remarks"], *found["ignored"]]

    assert answer.status_code == 200, answer.text
    assert "Accept-Language" in answer.headers["Vary"]
    assert len(remarks) >= 2
    for each in remarks:
        assert not is_english(f"{each['location']} {each['text']}"), each


@pytest.mark.parametrize(
    ("command", "example"),
    [
        ("check", "stack-check-request.json"),
        ("coverage", "coverage-depleted-request.json"),
        ("coverage", "coverage-drawn-request.json"),
    ],
)
def test_commands_say_it_in_german(run: Run, command: str, example: str) -> None:
    path = Path(str(EXAMPLES.joinpath(example)))
    body: dict[str, Any] = json.loads(path.read_text("utf-8"))
    names = words(json.dumps(body))

    _, told, _ = run(command, str(path), "--language", "de")
    _, as_json, _ = run(command, str(path), "--language", "de", "--json")

    assert told
    assert not words(told) & (ENGLISH - names), told
    # What a program reads is the same on every machine.
    assert "language" not in json.loads(as_json)


def test_convert_says_its_remarks_in_german(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    path.write_bytes(OUTSIDE)

    _, out, told = run("convert", str(path), "--language", "de")

    assert not is_english(told), told
    assert len(told.splitlines()) == 3
    assert json.loads(out)["remarks"][0]["text"].startswith("Block a is outside")


def test_a_record_is_checked_in_the_language_of_the_command(run: Run) -> None:
    record = copy.deepcopy(RECORD["record"])
    without_a_block(record)

    assert run("check", "--language", "de", sent=RECORD)[1] == "Das Protokoll stimmt.\n"
    assert not words(run("check", "--language", "de", sent=record)[1]) & {"the", "says", "comes"}
