"""The uses of a block whose certificate turned out wrong."""

import pytest
import sqlalchemy as sa

from store.looking_back import (
    MARCH,
    Client,
    asked,
    certify,
    client_of_a_test,
    end,
    issue,
    plan,
    problem,
    recalled,
    replan,
)
from store.rows import START, Clock, hours
from wrung_service.store import tables
from wrung_service.store.engine import Store

__all__ = ["client_of_a_test"]
"""Fixtures, which pytest finds here."""


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
