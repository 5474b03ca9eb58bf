"""History, jobs as they were, and the uses of a block whose certificate turned out wrong."""

import csv
import hashlib
import io
import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, TypeAlias, cast
from urllib.parse import quote

import pytest
import sqlalchemy as sa
from litestar.testing import TestClient

from store.rows import START, hours
from wrung_service.app import create_app
from wrung_service.settings import Settings
from wrung_service.store import tables
from wrung_service.store.engine import Store

Client: TypeAlias = TestClient[Any]
Json: TypeAlias = dict[str, Any]

HALL = "/v1/sites/north-hall"
MARCH = "2027-03-01"


class Clock:
    """Stands still until it is set."""

    def __init__(self) -> None:
        self.now = START - timedelta(days=1)

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def clock() -> Clock:
    """What time the service thinks it is."""
    return Clock()


@pytest.fixture
def client(store: Store, clock: Clock) -> Iterator[Client]:
    """The service with a site of five certified blocks, two of them of one length."""
    app = create_app(Settings(solve_workers=2), store=store, clock=clock)
    with TestClient(app) as client:
        body = {"name": "North hall", "time_zone": "Europe/Berlin"}
        assert client.put(HALL, json=body).status_code == 201
        for name, nominal in (("1", "1"), ("2", "2"), ("5", "5"), ("5-too", "5"), ("b/9", "9")):
            certify(client, name, nominal, deviation="0.02", certificate=f"C-{nominal}")
        yield client


def certify(client: Client, name: str, nominal: str, *, deviation: str, certificate: str) -> None:
    """A block, or a new calibration of it."""
    body = {
        "id": name,
        "nominal": nominal,
        "deviation": deviation,
        "expanded_uncertainty": "0.05",
        "calibration": {
            "certificate": certificate,
            "laboratory": "Lab of the north",
            "calibrated_on": "2027-01-10",
            "due_on": "2028-01-10",
        },
    }
    address = f"{HALL}/blocks/{name}"
    sent = client.put(address, json=body, headers={"If-Match": "*"})
    if sent.status_code == 412:
        sent = client.put(address, json=body)
    assert sent.status_code in {200, 201}, sent.text


def plan(
    client: Client, *lengths: str, job: str = "4711", at: float = 0, **members: object
) -> Json:
    """A plan for an hour, that many hours after the start."""
    body = {
        "unit": "mm",
        "crib": {
            "site": "north-hall",
            "needed_from": hours(at).isoformat(),
            "needed_until": hours(at + 1).isoformat(),
        },
        "job": job,
        "operation": "20",
        "targets": [
            {"kind": "length", "ref": f"t{place}", "length": each}
            for place, each in enumerate(lengths)
        ],
        **members,
    }
    response = client.post("/v1/plans", json=body)
    assert response.status_code == 201, response.text
    made: Json = response.json()
    return made


def end(client: Client, made: Json, state: str = "done") -> None:
    """It was used, or it was not needed."""
    response = client.post(f"/v1/plans/{made['id']}/end", json={"state": state})
    assert response.status_code == 200, response.text


def replan(client: Client, made: Json, *blocks: str) -> None:
    """Without those blocks."""
    body = {"blocks": list(blocks), "reason": "dropped"}
    response = client.post(f"/v1/plans/{made['id']}/replan", json=body)
    assert response.status_code == 200, response.text


def issue(store: Store, made: Json, block: str, out: float = 0, back: float | None = None) -> None:
    """The block goes out for a plan, in hours after the start."""
    row = {
        "site_id": "north-hall",
        "block_id": block,
        "plan_id": made["id"],
        "issued_at": hours(out),
        "issued_by": "Ida",
        "returned_at": None if back is None else hours(back),
    }
    with store.writing() as connection:
        connection.execute(sa.insert(tables.loan), row)


def asked(client: Client, address: str, **parameters: str) -> Any:  # noqa: ANN401 - any JSON
    """What is answered."""
    response = client.get(f"{HALL}/{address}", params=parameters)
    assert response.status_code == 200, response.text
    return response.json()


def recalled(client: Client, block: str = "5", since: str = MARCH) -> tuple[list[str], list[str]]:
    """Jobs that used the block, and jobs that count on it."""
    found = asked(client, "recall", block=block, since=since)
    used, planned = ([each["job"] for each in found[kind]] for kind in ("used", "planned"))
    return used, planned


def problem(client: Client, address: str, **parameters: str) -> str:
    """The problem that a request is refused with."""
    response = client.get(f"{HALL}/{address}", params=parameters)
    return str(response.json()["type"]).rpartition("/")[2]


class TestHistory:
    def test_it_says_who_did_what_when_and_why(self, client: Client) -> None:
        made = plan(client, "7")
        body = {"state": "cancelled", "reason": "order withdrawn"}
        client.post(f"/v1/plans/{made['id']}/end", json=body)

        begin, end = asked(client, "history", kind="plan")["entries"]

        assert (begin["what"], end["what"]) == ("plan.made", "plan.cancelled")
        assert (begin["subject"], begin["job"]) == (made["id"], "4711")
        assert begin["detail"]["blocks"] == ["2", "5"]
        assert (end["who"], end["why"]) == ("anybody", "order withdrawn")
        assert end["at"] == "2027-02-28T08:00:00.000000Z"

    def test_a_client_can_check_the_chain_by_itself(self, client: Client) -> None:
        """With nothing but JSON and SHA-256: the code below is none of the service's."""
        made = plan(client, "7", job="Größe \N{BLACK STAR}")
        replan(client, made, "5")
        end(client, made)
        certify(client, "5", "5", deviation="-0.031", certificate='C "x" \\ 7')

        entries = asked(client, "history")["entries"]

        previous = "0" * 64
        for number, entry in enumerate(entries, 1):
            said = entry.pop("hash")
            assert (entry["number"], entry["previous"]) == (number, previous)
            assert hashlib.sha256(canonical(entry).encode()).hexdigest() == said
            previous = said
        # A site, five blocks, four times something was done.
        assert len(entries) == 10

    def test_pages_are_the_whole(self, client: Client) -> None:
        whole = asked(client, "history")["entries"]

        address, pages = f"{HALL}/history?limit=4&kind=block", list[Any]()
        while address:
            page = client.get(address)
            pages.append(page.json())
            address = page.links.get("next", {}).get("url", "")

        assert [len(each["entries"]) for each in pages] == [4, 1]
        assert [entry for each in pages for entry in each["entries"]] == whole[1:]
        assert pages[-1]["next"] is None

    def test_filters(self, client: Client, clock: Clock) -> None:
        plan(client, "7", job="A")
        clock.now += timedelta(hours=2)
        made = plan(client, "6", job="B", at=3)
        end(client, made)

        def found(**parameters: str) -> list[tuple[str, str | None]]:
            entries = asked(client, "history", **parameters)["entries"]
            return [(each["what"], each["job"]) for each in entries]

        assert found(job="A") == [("plan.made", "A")]
        assert found(kind="plan", subject=made["id"]) == [("plan.made", "B"), ("plan.done", "B")]
        assert found(kind="block", subject="b/9") == [("block.made", None)]
        since = "2027-02-28t11:00:00+01:00"
        assert found(since=since) == [("plan.made", "B"), ("plan.done", "B")]
        assert ("plan.done", "B") not in found(until=since)
        assert len(found(until=since)) == 7
        assert found(who="nobody") == []

    @pytest.mark.parametrize(
        ("name", "value"),
        [
            ("since", "yesterday"),
            ("since", "2027-02-28T08:00:00"),
            ("since", "2027-02-30T08:00:00Z"),
            ("until", "0001-01-01T00:00:00+10:00"),
            ("until", "20270228T080000Z"),
            ("cursor", "x"),
            ("cursor", "9" * 20),
            ("limit", "0"),
            ("job", "\0"),
            ("who", "a\n"),
            ("kind", "k" * 17),
        ],
    )
    def test_what_makes_no_sense_is_refused(self, client: Client, name: str, value: str) -> None:
        assert problem(client, "history", **{name: value}) == "invalid-parameter"

    def test_a_client_that_has_it_is_told_so(self, client: Client) -> None:
        tag = client.get(f"{HALL}/history").headers["etag"]

        kept = client.get(f"{HALL}/history", headers={"If-None-Match": tag})

        assert (kept.status_code, kept.content) == (304, b"")
        plan(client, "7")
        again = client.get(f"{HALL}/history", headers={"If-None-Match": tag})
        assert again.status_code == 200

    @pytest.mark.parametrize("address", ["history", "jobs/4711", "recall?block=5&since=2027-03-01"])
    def test_an_unknown_site_has_none(self, client: Client, address: str) -> None:
        assert client.get(f"/v1/sites/south-hall/{address}").status_code == 404


def canonical(value: Any) -> str:  # noqa: ANN401 - any JSON
    """JSON in the form of RFC 8785, as far as history needs it, written for this test alone."""
    if isinstance(value, dict):
        names = cast("list[str]", list(value))  # pyright: ignore[reportUnknownArgumentType] -- any JSON
        # They sort by UTF-16 code units.
        names.sort(key=lambda name: name.encode("utf-16-be"))
        return "{" + ",".join(f"{canonical(n)}:{canonical(value[n])}" for n in names) + "}"
    if isinstance(value, list):
        return f"[{','.join(map(canonical, value))}]"  # pyright: ignore[reportUnknownArgumentType]
    if isinstance(value, float):
        # Numbers as ECMAScript writes them: these need no exponent.
        assert value == 0 or 1e-6 <= abs(value) < 1e21
        return f"{Decimal(repr(value)).normalize():f}"
    return json.dumps(value, ensure_ascii=False)


class TestJobs:
    def test_a_recalibration_does_not_change_what_was(self, client: Client) -> None:
        made = plan(client, "7")
        end(client, made)
        before = asked(client, "jobs/4711")

        certify(client, "5", "5", deviation="9.99", certificate="C-other")
        certify(client, "2", "2", deviation="-9.99", certificate="C-another")

        assert asked(client, "jobs/4711") == before
        (kept,) = before["plans"]
        ((only,),) = ([each["record"] for each in kept["records"]],)
        assert only == made["record"]
        blocks = {each["id"]: each for each in only["stacks"][0]["blocks"]}
        assert (blocks["5"]["certificate"], blocks["5"]["deviation"]) == ("C-5", "0.02")
        assert client.get(f"{HALL}/blocks/5").json()["deviation"] == "9.99"

    def test_it_has_all_plans_and_what_belongs_to_them(self, client: Client, store: Store) -> None:
        first, second = plan(client, "7"), plan(client, "3", at=2)
        plan(client, "6", job="other", at=4)
        issue(store, first, "5", 0, 0.5)

        job = asked(client, "jobs/4711")

        assert [each["id"] for each in job["plans"]] == [first["id"], second["id"]]
        assert [each["block"] for each in job["plans"][0]["loans"]] == ["5"]
        assert job["plans"][0]["loans"][0]["issued_by"] == "Ida"
        assert [each["what"] for each in job["entries"]] == ["plan.made", "plan.made"]

    def test_what_went_out_and_came_back_belongs_to_it(self, client: Client, clock: Clock) -> None:
        made = plan(client, "7")
        clock.now = hours(0)
        out = client.post(f"{HALL}/issues", json={"blocks": ["5", "2"], "plan": made["id"]})
        assert out.status_code == 200, out.text
        clock.now = hours(1)
        back = {"blocks": [{"id": "5", "condition": "damaged", "reason": "a nick"}, {"id": "2"}]}
        assert client.post(f"{HALL}/returns", json=back).status_code == 200
        end(client, made)

        job = asked(client, "jobs/4711")

        told = [
            (each["what"], each["subject"]) for each in job["entries"] if each["kind"] == "block"
        ]
        assert told == [("block.issued", n) for n in ("5", "2")] + [
            ("block.returned", n) for n in ("5", "2")
        ]
        loans = {each["block"]: each["returned_condition"] for each in job["plans"][0]["loans"]}
        assert loans == {"5": "damaged", "2": "fit"}
        assert recalled(client) == (["4711"], [])

    def test_a_plan_that_was_planned_anew_has_both_records(
        self, client: Client, clock: Clock
    ) -> None:
        made = plan(client, "7")
        clock.now += timedelta(hours=1)
        replan(client, made, "5")

        (kept,) = asked(client, "jobs/4711")["plans"]

        old, new = kept["records"]
        assert old["record"] == made["record"]
        assert (old["replaced_at"], new["replaced_at"]) == ("2027-02-28T09:00:00Z", None)
        assert {each["id"] for each in new["record"]["stacks"][0]["blocks"]} == {"2", "5-too"}

    def test_records_hold_when_they_are_checked(self, client: Client) -> None:
        made = plan(client, "7", "9")
        replan(client, made, "5")

        for each in asked(client, "jobs/4711")["plans"][0]["records"]:
            checked = client.post("/v1/stack-checks", json={"record": each["record"]})
            assert checked.json()["holds"], checked.text

    def test_a_table_has_a_row_for_each_block(self, client: Client) -> None:
        job = '=1+1, "a"; b'
        labelled = {"kind": "length", "ref": "t0", "length": "7", "labels": {"drawing": '-2,"x"'}}
        made = plan(client, "7", job=job, targets=[labelled])
        end(client, made)

        sent = client.get(f"{HALL}/jobs/{quote(job, safe='')}", headers={"Accept": "text/csv"})

        assert sent.headers["content-type"].startswith("text/csv")
        assert "Accept" in sent.headers["vary"]
        rows = list(csv.DictReader(io.StringIO(sent.text, newline="")))
        assert {each["block_id"] for each in rows} == {"2", "5"}
        # What a spreadsheet would work out is text.
        assert {each["job"] for each in rows} == {f"'{job}"}
        assert {each["plan"] for each in rows} == {made["id"]}
        assert {each["state"] for each in rows} == {"done"}
        assert {each["needed_from"] for each in rows} == {START.isoformat()}
        assert {each["certificate"] for each in rows} == {"C-2", "C-5"}
        assert {each["labels"] for each in rows} == {'{"drawing":"-2,\\"x\\""}'}
        assert [each["place"] for each in rows] == ["1", "2"]

    @pytest.mark.parametrize("job", ["4711/20", "a//b/", "50 % #2?", "ä.b"])
    def test_jobs_are_named_as_people_like(self, client: Client, job: str) -> None:
        plan(client, "7", job=job)

        assert asked(client, f"jobs/{quote(job, safe='')}")["job"] == job

    def test_there_is_none_of_which_nothing_is_known(self, client: Client) -> None:
        assert problem(client, "jobs/4712") == "not-found"
        assert problem(client, "jobs/%00") == "not-found"

    def test_a_plan_whose_time_is_over_has_expired(self, client: Client, clock: Clock) -> None:
        plan(client, "7")
        clock.now = hours(9)

        job = asked(client, "jobs/4711")

        assert [each["state"] for each in job["plans"]] == ["expired"]
        assert job["entries"][-1]["what"] == "plan.expired"


class TestRecall:
    def test_what_is_done_and_what_is_planned(self, client: Client) -> None:
        end(client, plan(client, "7", job="done"))
        plan(client, "6", job="planned", at=2)
        plan(client, "3", job="without", at=4)
        certify(client, "5", "5", deviation="9", certificate="C-new")

        found = asked(client, "recall", block="5", since=MARCH)

        assert recalled(client) == (["done"], ["planned"])
        for each, state in ((found["used"][0], "done"), (found["planned"][0], "planned")):
            assert (each["state"], each["operation"], each["target"]) == (state, "20", "t0")
            assert (each["block"]["certificate"], each["block"]["deviation"]) == ("C-5", "0.02")
            assert each["small_unit"] == "um"
            assert each["replaced_at"] is None
        assert found["used"][0]["needed_from"] == "2027-03-01T08:00:00Z"
        assert found["used"][0]["needed_until"] == "2027-03-01T09:00:00Z"

    def test_the_pause_is_no_use(self, client: Client) -> None:
        plan(client, "7", pause_minutes=90)

        (use,) = asked(client, "recall", block="5", since=MARCH)["planned"]

        assert use["needed_until"] == "2027-03-01T09:00:00Z"

    def test_each_stack_has_its_own_time(self, client: Client) -> None:
        own = {"needed_from": hours(30).isoformat(), "needed_until": hours(31).isoformat()}
        one = {"kind": "length", "ref": "t0", "length": "7"}
        plan(client, targets=[one, {**one, "ref": "t1", "length": "6", **own}])

        both = asked(client, "recall", block="5", since=MARCH)["planned"]
        late = asked(client, "recall", block="5", since="2027-03-02")["planned"]

        assert [(each["target"], each["needed_from"]) for each in both] == [
            ("t0", "2027-03-01T08:00:00Z"),
            ("t1", "2027-03-02T14:00:00Z"),
        ]
        assert [each["target"] for each in late] == ["t1"]

    def test_stacks_in_turn_share_the_block(self, client: Client) -> None:
        plan(client, "7", "6", timing="in_turn")

        found = asked(client, "recall", block="5", since=MARCH)["planned"]

        assert [each["target"] for each in found] == ["t0", "t1"]
        assert len({each["needed_from"] for each in found}) == 1

    def test_a_day_begins_at_the_site(self, client: Client, clock: Clock) -> None:
        """In Berlin 2 March 2027 begins an hour before it does in Greenwich."""
        clock.now = hours(15.5)
        end(client, plan(client, "7", job="late", at=15.75))  # until 23:45 UTC at most
        clock.now = hours(14.9)
        early = plan(client, "6", job="early", at=13.95)
        end(client, early)

        assert recalled(client, since="2027-03-01")[0] == ["early", "late"]
        assert recalled(client, since="2027-03-02")[0] == ["late"]
        assert recalled(client, since="2027-03-03")[0] == []

    def test_what_was_never_used_is_left_out(
        self, client: Client, store: Store, clock: Clock
    ) -> None:
        end(client, plan(client, "7", job="cancelled"), "cancelled")
        plan(client, "7", job="expired", at=2)
        clock.now = hours(20)

        assert recalled(client) == ([], [])

        clock.now = hours(20)
        out = plan(client, "7", job="cancelled, but out", at=30)
        issue(store, out, "5", 20, 21)
        end(client, out, "cancelled")
        assert recalled(client) == (["cancelled, but out"], [])
        assert recalled(client, "2") == ([], [])

    def test_what_is_out_for_a_plan_is_in_use(self, client: Client, store: Store) -> None:
        issue(store, plan(client, "7"), "5")

        (use,) = asked(client, "recall", block="5", since="2027-06-01")["used"]

        assert (use["state"], use["issued_at"]) == ("planned", "2027-03-01T08:00:00Z")
        assert use["returned_at"] is None
        assert recalled(client, "2") == ([], ["4711"])

    def test_what_was_planned_anew_before_its_use_is_left_out(self, client: Client) -> None:
        made = plan(client, "7")
        replan(client, made, "5")
        end(client, made)

        assert recalled(client, "5") == ([], [])
        assert recalled(client, "5-too") == (["4711"], [])

    def test_what_was_planned_anew_during_its_use_counts(
        self, client: Client, clock: Clock
    ) -> None:
        made = plan(client, "7")
        clock.now = hours(0.5)
        replan(client, made, "5")
        end(client, made)

        (use,) = asked(client, "recall", block="5", since=MARCH)["used"]

        assert use["replaced_at"] == "2027-03-01T08:30:00Z"
        assert use["block"]["certificate"] == "C-5"
        assert recalled(client, "5-too") == (["4711"], [])
        # It was in the record before and in the one after: that is one use.
        assert recalled(client, "2") == (["4711"], [])

    def test_where_blocks_are_issued_only_those_count_that_were(
        self, client: Client, store: Store, clock: Clock
    ) -> None:
        made = plan(client, "7")
        issue(store, made, "2")
        clock.now = hours(0.5)
        replan(client, made, "5")

        assert recalled(client, "5") == ([], [])
        assert recalled(client, "2") == (["4711"], [])

    def test_a_block_that_came_back_before_it_was_replaced(
        self, client: Client, store: Store, clock: Clock
    ) -> None:
        made = plan(client, "7")
        issue(store, made, "5", 0, 0.25)
        clock.now = hours(0.5)
        replan(client, made, "5")

        (use,) = asked(client, "recall", block="5", since=MARCH)["used"]

        assert (use["returned_at"], use["state"]) == ("2027-03-01T08:15:00Z", "planned")
        assert use["block"]["id"] == "5"
        assert recalled(client, since="2027-03-02") == ([], [])

    def test_what_went_out_without_being_in_a_record_is_there(
        self, client: Client, store: Store
    ) -> None:
        issue(store, plan(client, "7"), "b/9")

        (use,) = asked(client, "recall", block="b/9", since=MARCH)["used"]

        assert (use["job"], use["target"], use["block"]) == ("4711", None, None)

    def test_a_removed_block_is_recalled_as_well(self, client: Client, store: Store) -> None:
        end(client, plan(client, "7"))
        with store.writing() as connection:
            removed = sa.update(tables.block).where(tables.block.c.id == "5")
            connection.execute(removed.values(removed_at=START))

        assert recalled(client) == (["4711"], [])

    @pytest.mark.parametrize("since", ["0001-01-01", "9999-12-31"])
    def test_days_at_the_ends_of_the_calendar(self, client: Client, since: str) -> None:
        asked(client, "recall", block="5", since=since)

    @pytest.mark.parametrize(
        "parameters",
        [
            {"block": "5"},
            {"since": MARCH},
            {"block": "5", "since": "2027-13-01"},
            {"block": "", "since": MARCH},
            {"block": "\0", "since": MARCH},
        ],
    )
    def test_what_makes_no_sense_is_refused(
        self, client: Client, parameters: dict[str, str]
    ) -> None:
        assert problem(client, "recall", **parameters) == "invalid-parameter"

    def test_there_is_no_such_block(self, client: Client) -> None:
        assert problem(client, "recall", block="6", since=MARCH) == "not-found"

    def test_blocks_of_other_sites_are_others(self, client: Client) -> None:
        end(client, plan(client, "7"))
        body = {"name": "South hall", "time_zone": "Europe/Berlin"}
        client.put("/v1/sites/south-hall", json=body)
        south = {"id": "5", "nominal": "5", "grade": "1"}
        assert client.put("/v1/sites/south-hall/blocks/5", json=south).status_code == 201

        parameters = {"block": "5", "since": MARCH}
        found = client.get("/v1/sites/south-hall/recall", params=parameters).json()

        assert (found["used"], found["planned"]) == ([], [])
