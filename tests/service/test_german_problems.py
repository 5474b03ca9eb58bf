"""Whoever prefers German gets problems in German, from every part of the crib."""

import ast
import json
import re
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient

from store.planning import Client, asked, made
from store.rows import SITE, Clock, add_block, add_site
from wrung_service.api.german import german, german_detail, german_title, wants_german
from wrung_service.api.problem_types import CATALOGUE
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store

HALL = f"/v1/sites/{SITE}"
GERMAN = {"Accept-Language": "de-AT, de;q=0.9, en;q=0.5"}
PARTS = (
    *("api/*.py", "api/shelf/*.py", "api/inventory/*.py", "api/loans/*.py", "api/past/*.py"),
    *("api/plans/*.py", "api/crib/*.py", "api/batches/*.py", "store/*.py"),
    *("usecases/loans/*.py", "usecases/shelf/*.py", "usecases/keep_plans.py", "pool.py"),
)
"""What may refuse a request about the crib."""
REFUSING = frozenset(
    {
        *("Refusal", "meaningless", "invalid", "Fault", "StateError", "UnavailableError"),
        *("BusyError", "NotALengthError"),
    }
)
ELSEWHERE = frozenset(
    {
        # Pages for people who read the English documentation, and what only wraps other sentences.
        *("There is no such kind of problem.", "The pages have no such part."),
        *("{}: {}", "{} {}", "line {}{}: {}", "nominal: {}.", "{}: {} can be none: {}."),
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


def sentences() -> Iterator[tuple[str, str]]:
    """Every sentence that the code refuses with, and where; what is put in stands as ``{}``."""
    root = Path(str(files("wrung_service")))
    for path in (path for part in PARTS for path in sorted(root.glob(part))):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        named = dict(_named(tree))
        for call in (each for each in ast.walk(tree) if isinstance(each, ast.Call)):
            if _name(call) in REFUSING:
                given = [*call.args, *(each.value for each in call.keywords)]
                for each in given:
                    value = named.get(each.id, each) if isinstance(each, ast.Name) else each
                    text = _template(value)
                    if " " in text and text not in ELSEWHERE:
                        yield path.name, text


def _named(tree: ast.Module) -> Iterator[tuple[str, ast.expr]]:
    """What has a name of its own, with a type or without."""
    for each in ast.walk(tree):
        if isinstance(each, ast.Assign) and isinstance(each.targets[0], ast.Name):
            yield each.targets[0].id, each.value
        if isinstance(each, ast.AnnAssign) and isinstance(each.target, ast.Name) and each.value:
            yield each.target.id, each.value


def _name(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def _template(value: ast.expr) -> str:
    if isinstance(value, ast.Constant):
        return value.value if isinstance(value.value, str) else ""
    if isinstance(value, ast.JoinedStr):
        return "".join(
            str(each.value) if isinstance(each, ast.Constant) else "{}" for each in value.values
        )
    return ""


def test_every_kind_of_problem_has_a_german_title() -> None:
    for kind in CATALOGUE:
        assert german_title(kind.name, kind.title) != kind.title, kind.name


def test_every_sentence_of_the_crib_has_a_german_one() -> None:
    """Also those that are said only when something is broken."""
    found = list(sentences())
    assert len(found) > 60
    # A name such as 'x' stands for what is put in, and nothing for a part that may be left out.
    assert {(where, text) for where, text in found if not _in_german(text)} == set()


def _in_german(text: str) -> bool:
    """Whether there is German for it, with its last part or without, which may be left out."""
    filled = [each.replace("{}", "'x'") for each in (text, re.sub(r"\{\}(\.?)$", r"\1", text))]
    return any(german_detail(each) != each or german(each) != each for each in filled)


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
    "replan": ("POST", "/v1/plans/PLAN/replan", {"blocks": ["c"]}),
    "ended": ("POST", "/v1/plans/PLAN/end", {"state": "perhaps"}),
    "history": ("GET", f"{HALL}/history?since=yesterday", None),
    "recall": ("GET", f"{HALL}/recall?block=a", None),
    "parameter": ("GET", f"{HALL}/blocks?limt=3", None),
    "condition": ("GET", f"{HALL}/blocks?condition=broken", None),
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
            plain = re.sub(r"'[^']*'|`[^`]*`", "", text)
            assert not _ENGLISH.search(plain), f"{name}: {text}"
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
