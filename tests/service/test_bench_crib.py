"""The page to type into with the blocks of a crib: what is there, and what is reported."""

from collections.abc import Callable, Iterator
from datetime import timedelta
from urllib.parse import urlencode

import pytest
from litestar.testing import TestClient

from service.bench_pages import PAGE as HTML
from service.bench_pages import Reader
from service.crib_reader import HALL, OWN, Client
from service.test_access import asking, key
from store.rows import START, Clock, add_site
from wrung_service.api.admission import KEY_COOKIE
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store.engine import Store
from wrung_service.usecases.scopes import Scope

STACKS = "/crib/north-hall/stacks"
TEN = f"{HALL}/blocks/bench/10"
WANTED = (("lang", "en"), ("unit", "mm"), ("want", "10"))


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    with store.writing() as connection:
        add_site(connection, "north-hall")
        add_site(connection, "south-hall")
    app = create_app(Settings(solve_workers=1), store=store, clock=clock)
    with TestClient(app.edge) as client:
        for name in ("bench", "tool"):
            made = client.put(
                f"{HALL}/sets/{name}", json={"composition": "metric-47-a", "grade": "1"}
            )
            assert made.status_code == 201, made.text
        yield client


def look(client: Client, *pairs: tuple[str, str], path: str = STACKS) -> Reader:
    answer = client.get(f"{path}?{urlencode(pairs)}", headers=HTML)
    assert answer.status_code == 200, answer.text
    return Reader(answer.text)


def press(client: Client, *pairs: tuple[str, str], **headers: str) -> Reader:
    """A button that reports, and the page that it leads to."""
    done = client.post(f"{STACKS}/reports", data=dict(pairs), headers={**HTML, **(headers or OWN)})
    assert done.status_code == 200, done.text
    return Reader(done.text)


def test_stacks_are_of_the_sets_that_were_chosen(client: Client) -> None:
    page = look(client, *WANTED, ("case", "tool"), ("case", "no-such-set"))
    part = client.get(f"{STACKS}/answer?{urlencode([*WANTED, ('case', 'tool')])}").text

    assert "10 mm" in page.texts
    assert ("case", "tool") in page.values
    assert 'value="tool/10"' in part
    assert "bench/10" not in part
    # Neither the address nor the browser brings a shelf of its own.
    own = look(client, *WANTED, ("set", "A~inch-81~AS-1"))
    assert "set-cookie" not in client.get(STACKS, headers=HTML).headers
    assert not [value for name, value in own.values if name == "set"]


def test_a_block_that_is_not_there_is_reported_until_it_is_put_back(
    client: Client, clock: Clock
) -> None:
    clock.now = START + timedelta(hours=1)
    marked = press(client, *WANTED, ("not_there", "bench/10"))
    held = client.get(TEN).json()

    assert (held["condition"], held["condition_reason"]) == ("missing", "not found at the bench")
    assert any(
        text.startswith("10 (bench/10) is reported to the crib as not there")
        for text in marked.texts
    )
    # Its twin is the next best.
    assert ("gone", "bench/10") in marked.values
    assert "10 mm" in marked.texts

    back = press(client, *WANTED, ("gone", "bench/10"), ("back", "bench/10"))
    assert client.get(TEN).json()["condition"] == "fit"
    assert ("gone", "bench/10") not in back.values


def test_what_others_know_of_a_block_is_not_overwritten(client: Client) -> None:
    worn = {"blocks": ["bench/10"], "condition": "damaged", "reason": "a notch"}
    assert client.post(f"{HALL}/condition-changes", json=worn).status_code == 200

    for button in ("not_there", "back"):
        press(client, *WANTED, (button, "bench/10"))
        press(client, *WANTED, (button, "bench/no-such-block"))
        assert client.get(TEN).json()["condition"] == "damaged"


def test_a_form_of_another_site_reports_nothing(client: Client) -> None:
    sent = {"not_there": "bench/10"}
    for headers in ({}, {"Sec-Fetch-Site": "cross-site"}):
        refused = client.post(f"{STACKS}/reports", data=sent, headers=headers)
        assert refused.status_code == 403
    assert client.get(TEN).json()["condition"] == "fit"


def test_without_a_crib_there_is_no_such_page() -> None:
    with TestClient(create_app(Settings(solve_workers=1)).edge) as client:
        assert client.get(STACKS, headers=HTML).status_code == 404


KEYS: tuple[tuple[Scope, str | None, int], ...] = (
    ("read", None, 403),
    ("crib", "south-hall", 404),
    ("crib", "north-hall", 200),
)


def test_keys_open_the_page_and_let_some_report(client: Client, store: Store) -> None:
    del client
    with asking(store) as guarded:
        assert guarded.get(STACKS, headers=HTML).status_code == 401
        for scope, site, status in KEYS:
            guarded.cookies = {KEY_COOKIE: key(store, scope, site=site)}
            page = guarded.get(f"{STACKS}?want=10", headers=HTML)
            assert page.status_code == (404 if status == 404 else 200)
            assert ("formaction" in page.text) == (status == 200)
            sent = {"not_there": "bench/10"}
            done = guarded.post(f"{STACKS}/reports", data=sent, headers={**OWN, **HTML})
            assert done.status_code == status


def change(client: Client, condition: str) -> None:
    told = {"blocks": ["bench/10", "tool/10"], "condition": condition, "reason": "as they said"}
    assert client.post(f"{HALL}/condition-changes", json=told).status_code == 200


def issue(client: Client) -> None:
    out = {"blocks": ["bench/10", "tool/10"], "borrower": "lapping"}
    assert client.post(f"{HALL}/issues", json=out).status_code == 200


def promise(client: Client) -> None:
    until = (START + timedelta(hours=2)).isoformat()
    needed = {"needed_from": START.isoformat(), "needed_until": until}
    lengths = ("10", "10")
    plan = {
        "unit": "mm",
        "job": "4715",
        "crib": {"site": "north-hall", **needed},
        "targets": [
            {"kind": "length", "ref": f"t{n}", "length": length, "max_blocks": 1}
            for n, length in enumerate(lengths)
        ],
    }
    assert client.post("/v1/plans", json=plan).status_code == 201


def let_run_out(client: Client) -> None:
    for name in ("bench", "tool"):
        held = client.get(f"{HALL}/blocks/{name}/10").json()
        body = {
            "id": f"{name}/10",
            "nominal": "10",
            "unit": "mm",
            "grade": "1",
            "set": name,
            "calibration": {"due_on": "2027-02-01"},
        }
        headers = {"If-Match": f'"{held["version"]}"'}
        told = client.put(f"{HALL}/blocks/{name}/10", json=body, headers=headers)
        assert told.status_code == 200, told.text


@pytest.mark.parametrize(
    ("befall", "word"),
    [
        (lambda c: change(c, "damaged"), "damaged or worn"),
        (lambda c: change(c, "at_calibration"), "at calibration"),
        (lambda c: change(c, "missing"), "missing"),
        (issue, "out"),
        (promise, "promised to others"),
        (let_run_out, "overdue for calibration"),
    ],
    ids=["damaged", "at calibration", "missing", "out", "promised", "overdue"],
)
def test_it_says_why_a_block_was_not_used_where_that_costs_something(
    client: Client, befall: Callable[[Client], None], word: str
) -> None:
    """10 is one block, and two without it; 1 is there all the same, so nothing is said of it."""
    befall(client)

    assert f"10 {word}: 1 block more" in " ".join(look(client, *WANTED).texts)
    other = look(client, ("lang", "en"), ("unit", "mm"), ("want", "1"))
    assert f"10 {word}" not in " ".join(other.texts)


def test_a_retired_block_is_nobodys_loss(client: Client) -> None:
    change(client, "retired")

    assert "block more" not in " ".join(look(client, *WANTED).texts)


def test_a_block_with_a_twin_is_nobodys_loss_unless_both_are_wanted_at_once(
    client: Client,
) -> None:
    out = {"blocks": ["bench/10"], "borrower": "lapping"}
    assert client.post(f"{HALL}/issues", json=out).status_code == 200

    assert "10 out" not in " ".join(look(client, *WANTED).texts)
    both = look(client, *WANTED, ("kept", "7~length~want=10"))
    assert "10 out: 1 block more" in " ".join(both.texts)


def test_only_blocks_that_are_missed_are_named(client: Client) -> None:
    """A twin that lies there is enough, and a block that no better stack has is not missed."""
    out = {"blocks": ["bench/10", "tool/10", "bench/9"], "borrower": "lapping"}
    assert client.post(f"{HALL}/issues", json=out).status_code == 200

    told = " ".join(look(client, ("lang", "en"), ("unit", "mm"), ("want", "9")).texts)
    assert "9 out" not in told
    both = " ".join(look(client, ("lang", "en"), ("unit", "mm"), ("want", "10")).texts)
    assert "10 out: 1 block more" in both
    assert "9 out" not in both


def test_a_kind_of_two_stacks_misses_a_twin(client: Client) -> None:
    """Both gauges stand at one time, so one block of 10 is not enough."""
    out = {"blocks": ["bench/10"], "borrower": "lapping"}
    assert client.post(f"{HALL}/issues", json=out).status_code == 200
    limits = (("kind", "limits"), ("f.lower", "10"), ("f.upper", "11.1"))

    told = " ".join(look(client, ("lang", "en"), ("unit", "mm"), *limits).texts)
    assert "10 out: 1 block more" in told
