"""Whoever prefers German gets problems in German, from every part of the service."""

import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from litestar.testing import TestClient

from service.refusals import sentences
from service.wrong_requests import wrong_requests
from store.planning import Client, asked, made
from store.rows import SITE, Clock, add_block, add_site
from wrung_service.api.german import (
    german,
    german_detail,
    german_title,
    in_language,
    wants_german,
)
from wrung_service.api.problem_types import CATALOGUE
from wrung_service.api.problems import Refusal
from wrung_service.api.records.reading import RecordReader
from wrung_service.app import create_app
from wrung_service.settings import Limits, Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.stack_query import query_faults

HALL = f"/v1/sites/{SITE}"
GERMAN = {"Accept-Language": "de-AT, de;q=0.9, en;q=0.5"}
ELSEWHERE = frozenset(
    {
        # Places in certificates, which stand before the sentence.
        *("the document", "the signature", "the due date", "line {}", "line 1", "{}, id"),
        # What only wraps other sentences, and a note in the history.
        *("nominal: {}.", "{}: {} can be none: {}.", "{} ({}, {}).", "gave way to plan {}"),
    }
)
_ENGLISH = re.compile(
    r"\b(the|is|are|was|not|must|there|already|of|and|with|no|needs|send)\b", re.IGNORECASE
)


@pytest.fixture
def client(store: Store) -> Iterator[Client]:
    with store.writing() as connection:
        add_site(connection)
        for name in ("a", "b"):
            add_block(connection, name)
    with TestClient(create_app(Settings(solve_workers=2), store=store, clock=Clock())) as client:
        yield client


def test_every_kind_of_problem_has_a_german_title() -> None:
    for kind in CATALOGUE:
        assert german_title(kind.name, kind.title) != kind.title, kind.name


def test_every_sentence_has_a_german_one() -> None:
    """Also those that are said only when something is broken."""
    found = {each for each in sentences() if each[1] not in ELSEWHERE}
    assert len(found) > 350
    english = {(where, text, said) for where, text in found if is_english(said := _german(text))}
    assert english == set()


def _german(text: str) -> str:
    """The German of a sentence, with its last part or without, which may be left out."""
    whole = text.removesuffix(".")
    for each in (text, whole, whole[:1].lower() + whole[1:]):
        for template in (each, re.sub(r"\{\}(\.?)$", r"\1", each)):
            # A name in quotes stands for what is put in.
            filled = template.replace("{}", "'x'")
            if (said := german(filled)) != filled:
                return said
    return text


def is_english(text: str) -> bool:
    plain = re.sub(r"'[^']*'|`[^`]*`", "", text)
    return bool(_ENGLISH.search(plain))


TAKEN = {**asked("2"), "targets": [{**asked("2")["targets"][0], "ref": "the set"}]}
SENT: dict[str, tuple[str, str, Any]] = {
    "no such site": ("GET", "/v1/sites/nowhere", None),
    "no such block": ("GET", f"{HALL}/blocks/c", None),
    "no such plan": ("GET", "/v1/plans/none", None),
    "no such job": ("GET", f"{HALL}/jobs/none", None),
    "several sets of that number": (
        "PUT",
        f"{HALL}/sets/new",
        {"composition": "metric-87", "grade": "1"},
    ),
    "an id that can be none": ("PUT", "/v1/sites/Nord%20Halle", {}),
    "a member is missing": ("PUT", "/v1/sites/south", {"time_zone": "UTC"}),
    "unknown member": ("POST", f"{HALL}/issues", {"blocks": ["a"], "bloks": 1}),
    "wrong type": ("POST", f"{HALL}/issues", {"blocks": "a"}),
    "empty": ("POST", f"{HALL}/issues", {"blocks": []}),
    "no zone": ("PUT", "/v1/sites/south", {"name": "S", "time_zone": "Nowhere"}),
    "version needed": ("PUT", HALL, {"name": "N", "time_zone": "UTC"}),
    "unknown block": ("POST", f"{HALL}/issues", {"blocks": ["c"]}),
    "twice": ("POST", f"{HALL}/issues", {"blocks": ["a", "a"]}),
    "not out": ("POST", f"{HALL}/returns", {"blocks": [{"id": "b"}]}),
    "out already": ("POST", f"{HALL}/issues", {"blocks": ["a"]}),
    "not promised": ("POST", f"{HALL}/issues", {"blocks": ["OTHER"], "plan": "PLAN"}),
    "over": ("POST", "/v1/plans", asked("1", start=-48, end=-47)),
    "no time": ("POST", "/v1/plans", {**asked("1"), "crib": {"site": SITE}}),
    "unknown set": ("POST", "/v1/plans", {**asked("1"), "crib": {"site": SITE, "sets": ["x"]}}),
    "taken": ("POST", "/v1/plans", asked("2")),
    "taken, by a name that is a word, too": ("POST", "/v1/plans", TAKEN),
    "replan": ("POST", "/v1/plans/PLAN/replan", {"blocks": ["c"]}),
    "ended": ("POST", "/v1/plans/PLAN/end", {"state": "perhaps"}),
    "history": ("GET", f"{HALL}/history?since=yesterday", None),
    "recall": ("GET", f"{HALL}/recall?block=a", None),
    "parameter": ("GET", f"{HALL}/blocks?limt=3", None),
    "condition": ("GET", f"{HALL}/blocks?condition=broken", None),
    "language": ("POST", "/v1/plans", {**asked("1"), "language": "fr"}),
    "batch": ("POST", "/v1/batches", {"requests": [{}], "more": 1}),
    "broken csv": ("CSV", f"{HALL}/certificate-imports?unit=mm", 'id,nominal\r\n"a'),
    "csv": ("CSV", f"{HALL}/inventory-imports", "nr,nominal\r\na,1\r\n"),
    "length": (
        "POST",
        f"{HALL}/inventory-imports",
        {"blocks": [{"id": "a", "nominal": "2", "grade": "1"}]},
    ),
}


def test_problems_of_the_crib_are_in_german(client: Client) -> None:
    """Title, detail and every member at fault; pointers, names and kinds are the same."""
    plan = made(client, asked("1"))
    client.post(f"{HALL}/issues", json={"blocks": ["a"], "borrower": "Kim"})
    other = {"a": "b", "b": "a"}[plan["promises"][0]["block"]]
    for name, (method, path, body) in SENT.items():
        sent = _filled(body, PLAN=plan["id"], OTHER=other)
        english, said = (
            _ask(client, method, path.replace("PLAN", plan["id"]), sent, headers)
            for headers in ({"Accept-Language": "en"}, GERMAN)
        )
        assert said.status_code == english.status_code >= 400, (name, said.text)
        problem, before = said.json(), english.json()
        assert said.headers["Content-Language"] == "de"
        assert english.headers["Content-Language"] == "en"
        assert "Accept-Language" in said.headers["Vary"]
        assert problem["type"] == before["type"]
        texts = [problem["title"], problem["detail"], *(e["detail"] for e in problem["errors"])]
        for text in texts:
            assert not is_english(text), f"{name}: {text}"
        assert [e["pointer"] for e in problem["errors"]] == [e["pointer"] for e in before["errors"]]


def _filled(body: Any, **names: str) -> Any:  # noqa: ANN401 - JSON
    text = json.dumps(body)
    for placeholder, name in names.items():
        text = text.replace(placeholder, name)
    return json.loads(text)


def _ask(client: Client, method: str, path: str, body: Any, headers: dict[str, str]) -> Any:  # noqa: ANN401 - JSON
    if method == "CSV":
        return client.post(path, content=body, headers={**headers, "Content-Type": "text/csv"})
    return client.request(method, path, json=body, headers=headers)


@pytest.mark.parametrize("language", ["en", "de"])
def test_reasons_without_a_stack_are_in_the_language_of_the_problem(
    client: Client, language: str
) -> None:
    """Not in that of the request's answer; names of targets stay as they were sent."""
    names = ("set", "has 1.5 of all")
    body = asked("7.7777", "0.0002", language=language)
    for target, name in zip(body["targets"], names, strict=True):
        target |= {"ref": name, "wear_blocks": "one", "max_blocks": 1}
    body["targets"].append({"kind": "limits", "ref": "gap", "lower": "70.1", "upper": "70.2"})

    english, said = (
        _ask(client, "POST", "/v1/plans", body, headers).json()
        for headers in ({"Accept-Language": "en"}, GERMAN)
    )

    assert english["type"] == said["type"] == "/problems/not-all-served"
    for name in map(repr, names):
        assert f"No stack for {name}: " in english["detail"]
        assert f"Keine Kombination für {name}: " in said["detail"]
    assert "No stack for 'gap' (go): " in english["detail"]
    assert "Keine Kombination für 'gap' (Gut): " in said["detail"]
    assert not is_english(said["detail"])
    assert not re.search("Kombination|Endmaß", english["detail"])


def test_whatever_is_wrong_with_a_request_is_said_in_german() -> None:
    """Every member of every kind and option, with values of every type that cannot be."""
    read = RecordReader(Limits())
    said = {text for body in wrong_requests() for text in _refusals(read, body)}
    assert len(said) > 150
    in_german = {*map(german, said), *map(german_detail, (f"/x: {text}." for text in said))}
    assert {text for text in in_german if is_english(text)} == set()
    assert {text for text in in_german if re.search(r"\d\.\d", _unquoted(text))} == set()


def _unquoted(text: str) -> str:
    """Without examples of what to send, names as they were sent, and ids."""
    return re.sub(r"'27°30'15\"'|'[^']*'|B4\.1|\w-[0-9.]+", "", text)


def _refusals(read: RecordReader, body: dict[str, Any]) -> Iterator[str]:
    try:
        reading = read.request(json.dumps(body).encode(), datetime(2026, 3, 1, tzinfo=UTC))
    except Refusal as refused:
        yield from (each.detail for each in refused.errors)
        return
    yield from (each.detail for each in query_faults(reading.query))


@pytest.mark.parametrize(
    ("english", "said"),
    [
        ("Send a/b or c/d, not an untyped body.", "Bitte a/b oder c/d senden, nicht einen Inhalt"),
        ("There is no set 'a or b'.", "Nicht vorhanden: Satz 'a or b'."),
        ("/x: is not a known member; the nearest known are a, b.", "am nächsten kommen a, b"),
        ("JSON is malformed: it ends too soon.", "Das JSON ist fehlerhaft: Es endet zu früh."),
        ("line 3 is not CSV: unexpected end of data.", "Zeile 3 ist kein CSV: die Daten enden"),
    ],
)
def test_what_is_put_in_is_told_apart_from_what_is_said(english: str, said: str) -> None:
    assert said in german_detail(english)
    assert said in in_language(english, "de")


@pytest.mark.parametrize(
    ("header", "wanted"),
    [
        ("", False),
        ("de", True),
        ("de-CH", True),
        ("en", False),
        ("en, de", False),
        ("de, en", False),
        ("fr, de;q=0.3", True),
        ("de;q=0.9, en;q=0.8", True),
        ("en;q=0.9, de;q=0.8", False),
        ("de;q=0", False),
        ("de;q=x", False),
        ("*", False),
    ],
)
def test_the_header_decides(header: str, wanted: bool) -> None:  # noqa: FBT001 - a table
    """By weights (RFC 9110, 12.5.4); English where both are as good."""
    assert wants_german(header) is wanted
