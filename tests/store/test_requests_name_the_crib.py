"""``POST /v1/stacks`` and ``/v1/coverage`` with a crib in place of blocks."""

from collections.abc import Iterator
from typing import Any

import pytest
import sqlalchemy as sa
from httpx import Response
from litestar.testing import TestClient

from store.planning import asked
from store.rows import SITE, Clock, add_block, add_plan, add_promise, add_set, add_site, hours
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store import tables
from wrung_service.store.engine import Store

QUANTA = 100_000_000  # of 0.01 nm in a millimetre


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[TestClient[Any]]:
    """The service with a crib of a few blocks."""
    with store.writing() as connection:
        add_site(connection)
        for name, length in (("one", 1), ("two", 2), ("three", 3), ("three-too", 3)):
            add_block(connection, name, nominal=length * QUANTA)
        add_block(connection, "worn", nominal=4 * QUANTA, condition="damaged")
    with TestClient(create_app(Settings(solve_workers=2), store=store, clock=clock)) as client:
        yield client


def request(*lengths: str, **members: object) -> dict[str, Any]:
    """A request for stacks from the crib in the first hour."""
    return {
        "unit": "mm",
        "crib": {"site": SITE, **window(0, 1)},
        "targets": [
            {"kind": "length", "ref": f"t{n}", "length": each} for n, each in enumerate(lengths)
        ],
        **members,
    }


def window(start: float, end: float) -> dict[str, str]:
    """A time of need, in hours after the start."""
    return {"needed_from": hours(start).isoformat(), "needed_until": hours(end).isoformat()}


def ids(answer: dict[str, Any]) -> list[set[str]]:
    """The blocks of each stack."""
    return [{block["id"] for block in stack["blocks"]} for stack in answer["stacks"]]


def solved(client: TestClient[Any], body: dict[str, Any]) -> dict[str, Any]:
    """The answer to a request that is understood."""
    response = client.post("/v1/stacks", json=body)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


def test_blocks_come_from_the_crib(client: TestClient[Any]) -> None:
    """As if they had been sent; what is not fit for use is not there."""
    assert ids(solved(client, request("6"))) == [{"three", "three-too"}]
    assert solved(client, request("4"))["total_blocks"] == 2


def test_a_change_of_the_shelf_is_seen_at_once(client: TestClient[Any]) -> None:
    """The shelf is kept between requests; whatever is done to a block ends that."""
    assert ids(solved(client, request("2"))) == [{"two"}]

    failed = {"condition": "damaged", "reason": "burr"}
    blocks = f"/v1/sites/{SITE}/blocks"
    done = client.post(f"/v1/sites/{SITE}/condition-changes", json={"blocks": ["two"], **failed})
    assert done.status_code == 200, done.text
    assert solved(client, request("2"))["outcome"] == "infeasible"

    new = {"id": "new", "nominal": "2", "unit": "mm", "grade": "1"}
    assert client.put(f"{blocks}/new", json=new, headers={"If-None-Match": "*"}).is_success
    assert ids(solved(client, request("2"))) == [{"new"}]


def test_what_is_promised_is_not_offered_then(client: TestClient[Any], store: Store) -> None:
    """At another time it is."""
    promise(store, "two", 0, 1)

    assert solved(client, request("2"))["outcome"] == "infeasible"
    later = request("2", crib={"site": SITE, **window(1, 2)})
    assert ids(solved(client, later)) == [{"two"}]
    assert ids(solved(client, request("2", crib={"site": SITE, **window(-1, 0)}))) == [{"two"}]


def test_each_target_has_what_is_free_at_its_own_time(
    client: TestClient[Any], store: Store
) -> None:
    """A block that is taken at one time serves the target of another."""
    promise(store, "two", 0, 1)
    body = request("2", "2")
    body["targets"][1] |= window(5, 6)

    answer = solved(client, body)

    assert answer["outcome"] == "partial"
    assert ids(answer) == [{"two"}]
    assert answer["stacks"][0]["target"] == "t1"
    assert [each["target"] for each in answer["unmet"]] == ["t0"]


def test_several_times_are_one_answer(client: TestClient[Any]) -> None:
    """Proven part by part, the same block once in each."""
    body = request("3", "2", "3")
    body["targets"][1] |= window(2, 3)
    body["targets"][2] |= window(4, 5)

    answer = solved(client, body)

    assert answer["outcome"] == "optimal"
    assert answer["objective_proven"]
    assert [each["target"] for each in answer["stacks"]] == ["t0", "t1", "t2"]
    assert answer["total_blocks"] == answer["bounds"]["total_blocks"] == 3


def test_what_is_out_is_not_there_until_it_is_due(client: TestClient[Any], store: Store) -> None:
    """And what is overdue may come back at any time, so nothing is built on it."""
    lend(store, "two", due=2)

    assert solved(client, request("2"))["outcome"] == "infeasible"
    assert ids(solved(client, request("2", crib={"site": SITE, **window(2, 3)}))) == [{"two"}]


def test_what_others_have_is_named_and_need_not_be_bought(
    client: TestClient[Any], store: Store
) -> None:
    """The shop owns a 2 mm block; a 7.1 mm one it lacks, whoever brings what back."""
    lend(store, "two", due=2, borrower="Miller")

    only_out = solved(client, request("2"))
    both = solved(client, request("2", "7.1"))

    assert only_out["shortage"]["blocks_to_add"] == []
    (unmet,) = only_out["unmet"]
    (taken,) = unmet["taken"]
    assert (taken["block"], taken["job"], taken["plan"]) == ("two", "Miller", None)
    assert taken["ends_at"] == hours(2).isoformat().replace("+00:00", "Z")
    assert "all of them free" not in unmet["detail"]
    # The site is in Berlin.
    assert unmet["detail"].endswith("2 mm (two) (Miller, until 2027-03-01 11:00+01:00).")
    assert [each["nominal"] for each in both["shortage"]["blocks_to_add"]] == ["1.1"]
    assert {each["target"]: "taken" in each for each in both["unmet"]} == {"t0": True, "t1": False}
    assert "all of them free" in both["unmet"][1]["detail"]


def test_who_holds_it_and_how_long_may_not_be_known(
    client: TestClient[Any], store: Store, clock: Clock
) -> None:
    """An overdue loan without a name; in German, as the request asks for it."""
    lend(store, "two", due=0.5)
    clock.now = hours(0.5)

    (unmet,) = solved(client, request("2", language="de"))["unmet"]

    assert unmet["taken"][0]["ends_at"] is None
    assert unmet["detail"].endswith("2 mm (two) (Rückgabe offen).")


def test_what_makes_room_with_what_others_have_is_named(
    client: TestClient[Any], store: Store
) -> None:
    """6 and 5 mm take more than 9 mm of blocks, but not more than 12 mm."""
    with store.writing() as connection:
        add_block(connection, "three-more", nominal=3 * QUANTA)
    promise(store, "three-more", 0, 1)

    answer = solved(client, request("6", "5"))

    assert answer["shortage"]["blocks_to_add"] == []
    assert [each["block"] for each in answer["unmet"][0]["taken"]] == ["three-more"]


def test_what_nothing_helps_at_one_time_takes_no_help_from_another(
    client: TestClient[Any],
) -> None:
    """No block is made so fine as the first needs it; the second lacks a tenth of a millimetre."""
    body = request("2.0000001", "7.1")
    body["targets"][1] |= window(5, 6)

    shortage = solved(client, body)["shortage"]

    assert [each["nominal"] for each in shortage["blocks_to_add"]] == ["1.1"]
    assert [each["target"] for each in shortage["not_helped"]] == ["t0"]


def test_due_dates_follow_the_time_zone_of_the_site(client: TestClient[Any], store: Store) -> None:
    """In Berlin the first of March 2027 ends an hour before it ends in Greenwich."""
    calibration = '{"due_on": "2027-03-01"}'
    with store.writing() as connection:
        add_block(connection, "due", nominal=20 * QUANTA, calibration=calibration)

    in_time = solved(client, request("20", crib={"site": SITE, **window(0, 15)}))
    too_late = solved(client, request("20", crib={"site": SITE, **window(0, 15.5)}))

    assert ids(in_time) == [{"due"}]
    assert too_late["outcome"] == "infeasible"
    assert [each["id"] for each in too_late["overdue_blocks"]] == ["due"]


def test_blocks_to_leave_out(client: TestClient[Any]) -> None:
    """As ``exclude``, but they need not be told to the search at all."""
    crib = {"site": SITE, "leave_out": ["two", "one"], **window(0, 1)}

    assert solved(client, request("2", crib=crib))["outcome"] == "infeasible"


def test_sets_of_the_crib(client: TestClient[Any], store: Store) -> None:
    """Other blocks of the site are not offered."""
    with store.writing() as connection:
        add_set(connection, "bench-3")
        add_block(connection, "bench-3/7", nominal=7 * QUANTA, set_id="bench-3")
    crib = {"site": SITE, "sets": ["bench-3"], **window(0, 1)}

    assert ids(solved(client, request("7", crib=crib))) == [{"bench-3/7"}]
    assert solved(client, request("2", crib=crib))["outcome"] == "infeasible"


def test_a_record_says_what_was_used(client: TestClient[Any]) -> None:
    """It is enough by itself, and holds; nothing in it refers to the crib."""
    answer = solved(client, request("5", record=True))

    sent = answer["record"]["request"]
    assert "crib" not in sent
    assert {block["id"] for block in sent["blocks"]} == ids(answer)[0]
    checked = client.post("/v1/stack-checks", json={"record": answer["record"]})
    assert checked.json()["holds"], checked.text


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"crib": {"site": "nowhere"}}, "/crib/site"),
        ({"crib": {"site": SITE, "sets": ["s"]}}, "/crib/sets/0"),
        ({"crib": {"site": SITE, "leave_out": ["one", "x"]}}, "/crib/leave_out/1"),
        ({"crib": {"site": SITE, "needed_from": hours(1).isoformat()}}, "/crib/needed_from"),
        ({"crib": {"site": SITE, **window(1, 1)}}, "/crib/needed_until"),
        ({"blocks": [{"id": "a", "nominal": "1", "grade": "1"}]}, "/crib"),
        ({"exclude": ["nothing"]}, "/exclude/0"),
    ],
)
def test_what_is_wrong_has_its_pointer(
    client: TestClient[Any], change: dict[str, Any], pointer: str
) -> None:
    """422, as for whatever else names something that is not there."""
    response = client.post("/v1/stacks", json=request("2", **change))

    assert response.status_code == 422, response.text
    assert [each["pointer"] for each in response.json()["errors"]] == [pointer]


def test_coverage_of_what_is_free(client: TestClient[Any], store: Store) -> None:
    """What is promised covers nothing then."""
    promise(store, "one", 0, 1)
    body = {"unit": "mm", "range": {"start": "1", "stop": "3", "step": "1"}}

    now = client.post("/v1/coverage", json={**body, "crib": {"site": SITE, **window(0, 1)}})
    later = client.post("/v1/coverage", json={**body, "crib": {"site": SITE, **window(1, 2)}})

    assert buildable(now) == 2
    assert buildable(later) == 3


def test_without_a_store_there_is_no_crib() -> None:
    """And it is said so."""
    with TestClient(create_app(Settings(solve_workers=1))) as client:
        response = client.post("/v1/stacks", json=request("2"))

    assert response.status_code == 404
    assert response.json()["type"] == "/problems/no-store"


def buildable(response: Response) -> int:
    """How many lengths can be built."""
    return int(response.json()["buildable"]["length_count"])


def promise(store: Store, block: str, start: float, end: float) -> None:
    """Promise a block to a plan."""
    with store.writing() as connection:
        add_plan(connection, "other")
        add_promise(connection, "other", block, (start, end))


def lend(store: Store, block: str, due: float, borrower: str | None = None) -> None:
    """A block goes out until an hour."""
    with store.writing() as connection:
        connection.execute(
            sa.insert(tables.loan),
            {
                "site_id": SITE,
                "block_id": block,
                "issued_at": hours(-1),
                "issued_by": "a test",
                "due_at": hours(due),
                "borrower": borrower,
            },
        )


def test_a_plan_needs_a_time(client: TestClient[Any]) -> None:
    """Or nothing could be promised."""
    body = asked("40")
    body["crib"] = {"site": SITE}

    response = client.post("/v1/plans", json=body)

    assert response.status_code == 422
    assert response.json()["errors"][0]["pointer"] == "/crib/needed_from"
