"""Whatever makes a plan's answer untrue marks the plan, and nothing else does."""

from datetime import UTC, datetime, timedelta
from itertools import cycle
from random import Random
from typing import Any, Final

import pytest

from store.changing import HALL, TEN, WAYS, changed, client_of_a_test, send, with_ten
from store.planning import Client, asked, blocks, made, replanned
from store.rows import Clock

__all__ = ["client_of_a_test"]
"""Fixtures, which pytest finds here."""

HARMFUL: Final[tuple[tuple[str, dict[str, Any]], ...]] = (
    ("changed", {"deviation": "0.07"}),
    ("changed", {"deviation": "-5"}),
    ("changed", {"expanded_uncertainty": "0.0601"}),
    ("changed", {"deviation": None, "expanded_uncertainty": None}),
    ("changed", {"deviation": None, "expanded_uncertainty": None, "limit_deviation": "0.12"}),
    ("changed", {"grade": "0"}),
    ("changed", {"material": "zirconia"}),
    ("changed", {"role": "wear"}),
    ("changed", {"calibration": {"coverage_factor": 1.5}}),
    ("changed", {"calibration": {"degrees_of_freedom": 4}}),
    ("changed", {"calibration": {"variation": "0.05"}}),
    ("changed", {"calibration": {"expansion": 10.5}}),
    ("changed", {"calibration": {"calibrated_on": "2026-01-10"}}),
    ("overdue", {"calibration": {"due_on": "2027-02-28"}}),
    ("moved", {"set": "b"}),
    ("moved", {"set": None}),
    ("damaged", {"condition": "damaged"}),
    ("missing", {"condition": "missing"}),
    ("retired", {"condition": "retired"}),
    ("at_calibration", {"condition": "at_calibration"}),
)
"""What changes of a block, and the reason that its plan is told."""
HARMLESS: Final[tuple[dict[str, Any], ...]] = (
    {"serial": "118 A"},
    {"maker_number": "12-345"},
    {"uses": 12, "minutes_out": 300},
    {"condition": "fit", "condition_reason": "looked at"},
    {"calibration": {"certificate": "K-1, page 2", "laboratory": "Another"}},
    {"calibration": {"due_on": "2027-03-01"}},
    {"calibration": {"due_on": "2030-01-31"}},
    {"calibration": {"calibrated_on": "2027-02-20"}},
    {"calibration": {"variation": "0.02", "degrees_of_freedom": 80}},
    {"expanded_uncertainty": "0.05"},
    {"deviation": "0.055", "expanded_uncertainty": "0.055"},
)


def at_risk(client: Client) -> dict[str, str]:
    """By plan, the reason."""
    listed = client.get(f"{HALL}/risks").json()["at_risk"]
    return {each["plan"]: each["reason"] for each in listed}


def restore(client: Client) -> None:
    """The block as it was at first."""
    send(client, {**TEN, "condition": "fit", "role": "gauge"}, "put")


def test_every_change_that_makes_an_answer_untrue_marks_its_plan(client: Client) -> None:
    """With whatever harmless changes come with it, in each way that a block can be changed."""
    random, ways = Random(15), cycle(WAYS)  # noqa: S311 - the same each time
    plan = with_ten(client)["id"]
    for reason, change in HARMFUL:
        beside = [e for e in random.sample(HARMLESS, 2) if not e.keys() & change.keys()]
        block, way = changed(*beside, change), next(ways)
        if way != "put":
            foreseen = send(client, block, way, preview=True)
            assert [(e["plan"], e["reason"]) for e in foreseen] == [(plan, reason)], change
            assert at_risk(client) == {}

        told = send(client, block, way)

        assert [(e["plan"], e["reason"]) for e in told] == [(plan, reason)], (way, block)
        assert told[0]["replan"] == f"/v1/plans/{plan}/replan"
        assert at_risk(client) == {plan: reason}
        assert client.get(f"/v1/plans/{plan}").json()["at_risk"] == ["a/10"]
        restore(client)
        assert at_risk(client) == {}, change
    entries = client.get(f"{HALL}/history", params={"subject": plan}).json()["entries"]
    written = [each["detail"] for each in entries if each["what"] == "plan.at_risk"]
    assert written == [{"block": "a/10", "reason": reason} for reason, _ in HARMFUL]


def test_a_change_that_leaves_an_answer_true_marks_nobody(client: Client) -> None:
    """Alone and together, in each way."""
    random, ways = Random(16), cycle(WAYS)  # noqa: S311 - the same each time
    with_ten(client)
    chosen = [[each] for each in HARMLESS] + [random.sample(HARMLESS, 3) for _ in range(6)]
    for changes in chosen:
        assert send(client, changed(*changes), next(ways)) == [], changes
        assert at_risk(client) == {}
        restore(client)


def test_a_block_shorter_than_its_nominal_length_is_judged_as_any_other(client: Client) -> None:
    """Half of all certified deviations are negative."""
    short = {**TEN, "deviation": "-0.05"}
    send(client, short, "put")
    with_ten(client)

    told = [
        [each["reason"] for each in send(client, {**short, **change}, "put")]
        for change in (
            {"expanded_uncertainty": "0.05"},
            {"deviation": "-0.07"},
            {"condition": "damaged"},
        )
    ]

    assert told == [[], ["changed"], ["damaged"]]


def test_no_plan_with_worse_figures_is_left_unmarked(client: Client) -> None:
    """Judged from outside: the same stack is worked out anew with the figures of today."""
    random = Random(17)  # noqa: S311 - the same each time
    record = with_ten(client)["record"]
    told = worse = 0
    for _ in range(25):
        block = changed(
            {
                "deviation": f"{random.uniform(0.03, 0.07):.3f}",
                "expanded_uncertainty": f"{random.uniform(0.03, 0.08):.3f}",
                "calibration": {
                    "coverage_factor": random.choice([1.8, 2.0, 2.2]),
                    "degrees_of_freedom": random.choice([10, 50, 90]),
                    "variation": random.choice(["0.02", "0.03", "0.04"]),
                    "calibrated_on": random.choice(["2026-12-10", "2027-01-10", "2027-02-10"]),
                },
            }
        )
        send(client, block, "put")
        if is_worse(client, record):
            worse += 1
            assert at_risk(client), block
        told += bool(at_risk(client))
    assert 0 < worse <= told < 25


def is_worse(client: Client, record: dict[str, Any]) -> bool:
    """Whether the stack of a record can be wrong by more than it says."""
    now = client.get(f"{HALL}/blocks/a/10").json()
    members = ("id", "nominal", "grade", "material", "deviation", "expanded_uncertainty", "unit")
    block = {**{name: now[name] for name in members}, "calibration": now["calibration"]}
    others = [each for each in record["request"]["blocks"] if each["id"] != "a/10"]
    body = {**record["request"], "blocks": [block, *others]}
    (stack,) = client.post("/v1/stacks", json=body).json()["stacks"]
    sure, (kept,) = stack["budget"]["corrected"], record["stacks"]
    return any(
        float(figure) > float(before) * (1 + 1e-9)
        for figure, before in (
            (stack["worst_case_error"], kept["worst_case_error"]),
            (sure["expanded_uncertainty"], kept["expanded_uncertainty"]),
        )
    )


@pytest.mark.parametrize("change", [HARMFUL[0], HARMFUL[7], *HARMFUL[13:17]])
def test_a_plan_at_risk_can_be_planned_anew(
    client: Client, change: tuple[str, dict[str, Any]]
) -> None:
    """It keeps its blocks where only their figures are others; then it has those figures."""
    plan = made(client, {**asked("15"), "crib": {**asked("15")["crib"], "sets": ["a"]}})
    failed = next(name for name in blocks(plan)[0] if name.startswith("a/10"))
    send(client, {**changed(change[1]), "id": failed}, "put")
    assert at_risk(client) == {plan["id"]: change[0]}

    after = replanned(client, plan)

    assert at_risk(client) == {}
    assert (after["version"], after["at_risk"]) == (2, [])
    if change == HARMFUL[0]:
        assert (after["changes"], blocks(after)) == ([], blocks(plan))
        assert after["answer"]["stacks"][0]["worst_case_error"] != "0.3054"
        assert after["record"]["stacks"][0]["deviation"] == "0.07"
    else:
        assert blocks(after) == [{"a/5", *({"a/10", "a/10-too"} - {failed})}]


def test_a_block_that_no_longer_does_is_replaced(client: Client) -> None:
    """Where its stack must keep a ratio, and could not with the figures of today."""
    tolerance = {
        "target": "t0",
        "lower": "14.998",
        "upper": "15.002",
        "required_ratio": 4,
        "enforce_required_ratio": True,
    }
    plan = made(client, asked("15", part_tolerances=[tolerance]))
    failed = next(name for name in blocks(plan)[0] if name.startswith("a/10"))
    send(client, {**TEN, "id": failed, "expanded_uncertainty": "3"}, "put")

    after = replanned(client, plan)

    assert blocks(after) == [{"a/5", *({"a/10", "a/10-too"} - {failed})}]


def test_another_time_zone_marks_plans_whose_blocks_are_due(client: Client) -> None:
    """By the calendar of the site a plan may reach into another day; and back again."""
    due = {**TEN["calibration"], "due_on": "2027-03-01"}
    for name in ("a/10", "a/10-too"):
        send(client, {**TEN, "id": name, "calibration": due}, "put")
    # From 22:30 to 22:50 in Berlin, which is the next day in Tokyo.
    evening = made(client, asked("15", start=13.5, end=13.83))
    allowed = made(client, asked("15", start=14, end=14.5, allow_overdue=True))
    site, version = client.get(HALL).json(), client.get(f"{HALL}/blocks/a/10").headers["ETag"]

    def move(zone: str) -> list[str]:
        body, headers = {"name": site["name"], "time_zone": zone}, {"If-Match": "*"}
        told = client.put(HALL, json=body, headers=headers).json()["at_risk"]
        return [each["plan"] for each in told]

    assert move("Asia/Tokyo") == [evening["id"]]
    assert at_risk(client) == {evening["id"]: "overdue"}
    assert allowed["id"] not in at_risk(client)
    # Whoever was at work with the days before has to begin again.
    assert client.get(f"{HALL}/blocks/a/10").headers["ETag"] != version
    assert move("Europe/Berlin") == []
    assert at_risk(client) == {}


def test_what_is_over_or_asked_for_something_else_is_not_at_risk(
    client: Client, clock: Clock
) -> None:
    """Plans that end before, that take overdue blocks, or any set."""
    body = asked("15", allow_overdue=True)
    plan = made(client, body)
    name = next(each for each in blocks(plan)[0] if each.startswith("a/10"))
    due = {"calibration": {**TEN["calibration"], "due_on": "2027-01-31"}}
    assert send(client, {**TEN, "id": name, "set": "b", **due}, "put") == []

    clock.now = datetime(2027, 3, 1, 8, tzinfo=UTC) + timedelta(hours=2)
    assert send(client, {**TEN, "id": name, "deviation": "3"}, "put") == []


def test_a_certificate_says_which_plans_it_puts_at_risk(client: Client) -> None:
    """Before it is imported, and after."""
    plan = with_ten(client)["id"]
    sheet = b"id,nominal,deviation,expanded_uncertainty\na/10,10,0.31,0.05\n"
    for preview in ("true", "false"):
        answer = client.post(
            f"{HALL}/certificate-imports",
            params={"preview": preview},
            content=sheet,
            headers={"Content-Type": "text/csv"},
        )

        told = answer.json()["at_risk"]
        assert [(each["plan"], each["reason"]) for each in told] == [(plan, "changed")], answer.text
    assert at_risk(client) == {plan: "changed"}


def test_a_plan_that_gave_way_gets_its_stack_back(client: Client) -> None:
    """Once there are blocks again for which it can be planned anew."""
    slow = made(client, asked("5", job="slow"))
    urgent = asked("5", job="urgent", priority=1, displace=True, leave_without=True)
    other = made(client, urgent)
    assert at_risk(client) == {slow["id"]: "displaced"}
    assert client.post(f"/v1/plans/{slow['id']}/replan", json={}).status_code == 409
    client.post(f"/v1/plans/{other['id']}/end", json={"state": "cancelled"})

    after = replanned(client, slow)

    assert (blocks(after), after["at_risk"], at_risk(client)) == ([{"a/5"}], [], {})
