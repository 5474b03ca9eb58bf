"""Targets one after another: each on the whole shelf, groups together, and few blocks changed."""

import os
from datetime import UTC, datetime, timedelta
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle
from wrung import Answer, GaugeSet, InputError, LengthTarget, Objective, inch, mm, solve, verify
from wrung.angles import angle
from wrung.deadline import Deadline
from wrung.handwork.for_answer import handwork
from wrung.order import Order
from wrung.planning.independent import ask_apart, components
from wrung.planning.problem import build_problem
from wrung.targets import (
    AngleBlocksTarget,
    CheckPointsTarget,
    LimitsTarget,
    Target,
    in_turn,
    results,
)
from wrung.testing import Request, make_blocks, make_targets, requests

CASES: Final = int(os.environ.get("WRUNG_SUCCESSION_CASES", "150"))
AMPLE_MS: Final = 60_000
NOON: Final = datetime(2026, 11, 25, 12, tzinfo=UTC)


@st.composite
def travellers(draw: st.DrawFn) -> tuple[Request, tuple[LengthTarget, ...]]:
    """A request without times, its targets in turn, some of them in groups."""
    request = draw(requests(max_blocks=8, max_targets=4))
    setup, named = 0, list[LengthTarget]()
    for target in request.targets:
        setup += draw(st.booleans())
        named.append(replace(target, needed_from=None, needed_until=None, setup=f"s{setup}"))
    return request, in_turn(named)


def answer_of(request: Request, targets: tuple[LengthTarget, ...]) -> Answer:
    return solve(
        request.blocks,
        targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        time_limit_ms=AMPLE_MS,
    )


@settings(max_examples=CASES)
@given(travellers())
def test_no_plan_is_better_and_none_that_is_as_good_changes_fewer(
    drawn: tuple[Request, tuple[LengthTarget, ...]],
) -> None:
    """Against the exhaustive search: totals first, then the changes between served steps."""
    request, targets = drawn
    answer = answer_of(request, targets)
    usable = [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]
    required = [each for target in targets for each in target.requirements()]
    best = oracle.best(
        usable,
        required,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
    )

    assert answer.objective_proven
    assert len(answer.stacks) == best.served
    assert answer.total_blocks == best.total_blocks
    assert answer.largest_worst_case_error == best.largest_error
    assert answer.total_worst_case_error == best.total_error
    if answer.changes is not None:
        least = oracle.least_changes(
            usable,
            required,
            [stack.name for stack in answer.stacks],
            objective=request.objective,
            joint_allowance=request.joint_allowance,
        )
        assert (answer.changes.block_changes, answer.changes.proven) == (least, True)
    breaches = verify(
        request.blocks,
        targets,
        answer,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )
    assert breaches == ()


def checked(blocks: str, targets: tuple[Target, ...], objective: Objective) -> Answer:
    shelf = make_blocks(blocks)
    answer = solve(shelf, targets, objective=objective, joint_allowance=0)
    assert verify(shelf, targets, answer, objective=objective, joint_allowance=0) == ()
    return answer


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_each_operation_has_the_whole_shelf(objective: Objective) -> None:
    """One block of 1.001 mm serves all three; at one time it would serve one."""
    targets = make_targets("1.001 2.001 3.001")

    assert checked("1.001 1 2", targets, objective).outcome == "partial"
    assert checked("1.001 1 2", in_turn(targets), objective).outcome == "optimal"


def test_targets_of_one_set_up_share_no_block() -> None:
    targets = [replace(t, setup="20") for t in make_targets("1.001 2.001")]

    answer = checked("1.001 1 2", in_turn(targets), "fewest_blocks")

    assert [unmet.reason for unmet in answer.unmet] == ["blocks_in_use"]


def test_two_limits_of_a_target_stand_together() -> None:
    """Both want the one block of 1.005 mm."""
    pair = LimitsTarget(ref="slot", lower=mm("3.005"), upper=mm("5.005"))

    answer = checked("1.005 2 4", in_turn([pair]), "fewest_blocks")

    assert len(answer.stacks) == 1


def test_check_points_are_steps_among_the_others() -> None:
    """11 mm, then points of 11.1 and 11.2 mm, then 11.2 mm again: the 10 stays throughout."""
    targets: tuple[Target, ...] = in_turn(
        [
            LengthTarget(ref="op10", length=mm("11")),
            CheckPointsTarget(ref="m", points=(mm("11.1"), mm("11.2"))),
            LengthTarget(ref="op30", length=mm("11.2")),
        ]
    )

    answer = checked("10 1 1.1 1.2", targets, "fewest_blocks")

    assert answer.changes is not None
    assert (answer.changes.block_changes, answer.changes.proven) == (4, True)


def test_angle_blocks_take_their_turn_too() -> None:
    """There is one block of 45 degrees, which both want; without that of 30 nothing else does."""
    first = AngleBlocksTarget(
        ref="a", angle=angle("45"), composition="angle-16", missing=(angle("30"),)
    )
    pair = [first, replace(first, ref="b")]

    assert solve((), pair).outcome == "partial"
    assert solve((), in_turn(pair)).outcome == "optimal"


@pytest.mark.parametrize("member", ["needed_from", "needed_until"])
def test_a_time_of_its_own_is_refused_in_a_sequence(member: str) -> None:
    targets = make_targets("1 2")

    with pytest.raises(InputError) as refused:
        in_turn([targets[0], replace(targets[1], **{member: NOON})])

    assert [fault.pointer for fault in refused.value.faults] == [f"/targets/1/{member}"]


def test_a_time_given_after_the_step_is_refused_as_well() -> None:
    (target,) = in_turn(make_targets("1"))
    late = replace(target, needed_from=NOON, needed_until=NOON + timedelta(hours=1))

    with pytest.raises(InputError) as refused:
        solve(make_blocks("1"), [late])

    assert [fault.pointer for fault in refused.value.faults] == ["/targets/0"]


def test_a_set_up_that_was_left_is_not_taken_up_again() -> None:
    first, second, third = make_targets("1 2 3")
    targets = [replace(first, setup="a"), second, replace(third, setup="a")]

    with pytest.raises(InputError) as refused:
        in_turn(targets)

    assert [fault.pointer for fault in refused.value.faults] == ["/targets/2/setup"]


def test_nothing_stands_beside_check_points_in_a_sequence() -> None:
    targets: list[Target] = [
        LengthTarget(ref="x", length=mm("2"), setup="a"),
        CheckPointsTarget(ref="m", points=(mm("11"),), setup="a"),
    ]

    with pytest.raises(InputError) as refused:
        solve(make_blocks("1 2 10"), in_turn(targets))

    assert [fault.pointer for fault in refused.value.faults] == ["/targets/1/setup"]


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_forty_operations_from_two_sets_are_proven(objective: Objective) -> None:
    shelf = (
        *GaugeSet(id="a", composition="inch-81", grade="AS-1").blocks(),
        *GaugeSet(id="b", composition="inch-81", grade="AS-2").blocks(),
    )
    lengths = [inch(f"0.{2137 + 173 * k}") for k in range(40)]
    targets = in_turn([LengthTarget(ref=f"op{k}", length=n) for k, n in enumerate(lengths)])

    answer = solve(shelf, targets, objective=objective, time_limit_ms=AMPLE_MS)

    alone = [solve(shelf, [replace(t, place=None)], objective=objective) for t in targets]
    assert answer.outcome == "optimal"
    assert answer.total_blocks == sum(each.total_blocks for each in alone)
    assert answer.changes is not None
    assert answer.changes.proven


class TestParts:
    """What is solved part by part."""

    def test_parts_are_what_a_chain_of_shared_times_leads_through(self) -> None:
        hours = [NOON + timedelta(hours=h) for h in range(5)]
        spans = [(0, 2), (1, 3), (3, 4), (2, 3)]
        targets = [
            replace(target, needed_from=hours[start], needed_until=hours[end])
            for target, (start, end) in zip(make_targets("1 2 3 4"), spans, strict=True)
        ]
        problem = build_problem(
            Order(
                blocks=make_blocks("1 2 3 4"),
                targets=targets,
                objective="fewest_blocks",
                joint_allowance=0,
            )
        )

        assert components(problem) == ((0, 1, 3), (2,))

    def test_a_group_may_err_as_much_as_the_worst_step_does(self) -> None:
        """Alone the pair would keep both errors at 4; beside an error of 9, 1 + 6 is less."""
        blocks = [
            replace(block, limit_deviation=limit)
            for block, limit in zip(make_blocks("2 2 3 3 9"), (4, 1, 4, 6, 9), strict=True)
        ]
        pair = [replace(t, setup="a") for t in make_targets("2 3")]
        alone = solve(blocks, in_turn(pair), joint_allowance=0)
        last = LengthTarget(ref="last", length=mm("9"))

        both = solve(blocks, in_turn([*pair, last]), joint_allowance=0)

        assert (alone.outcome, both.outcome) == ("optimal", "optimal")
        assert both.largest_worst_case_error == 9
        assert both.total_worst_case_error == 9 + 1 + 4

    def test_without_time_nothing_is_claimed(self) -> None:
        targets = in_turn(make_targets("1 2"))
        problem = build_problem(
            Order(blocks=make_blocks("1 2"), targets=targets, joint_allowance=0)
        )

        finding = ask_apart(problem, Deadline(0.0))

        assert not finding.objective_proven
        assert finding.bounds.served == 2


class TestCause:
    """Whether a shortage comes of asking for all at once."""

    def test_at_once_is_said_where_each_could_be_served_by_itself(self) -> None:
        answer = solve(make_blocks("1.001 1 2"), make_targets("1.001 2.001"))

        assert answer.shortage is not None
        assert answer.shortage.cause == "wanted_at_once"

    @pytest.mark.parametrize("lengths", ["1.001 7", "7"])
    def test_a_length_that_no_blocks_make_up_is_another_cause(self, lengths: str) -> None:
        answer = solve(make_blocks("1.001 1 2"), make_targets(lengths))

        assert answer.shortage is not None
        assert answer.shortage.cause == "blocks_missing"

    def test_a_target_of_two_stacks_that_cannot_stand_together_is_another_cause(self) -> None:
        pair = LimitsTarget(ref="slot", lower=mm("3.005"), upper=mm("5.005"))

        answer = solve(make_blocks("1.005 2 4"), [pair])

        assert answer.shortage is not None
        assert answer.shortage.cause == "blocks_missing"

    def test_a_set_up_that_cannot_stand_together_is_another_cause_in_turn(self) -> None:
        pair = [replace(t, setup="a") for t in make_targets("1.001 2.001")]

        answer = solve(make_blocks("1.001 1 2"), in_turn(pair))

        assert answer.shortage is not None
        assert answer.shortage.cause == "blocks_missing"

    @given(requests(max_blocks=7, max_targets=3))
    def test_in_turn_serves_all_just_where_that_is_the_cause(self, request_: Request) -> None:
        targets = [replace(t, needed_from=None, needed_until=None) for t in request_.targets]
        together = solve(request_.blocks, targets, time_limit_ms=AMPLE_MS)
        one_by_one = solve(request_.blocks, in_turn(targets), time_limit_ms=AMPLE_MS)

        if together.shortage is None:
            assert not one_by_one.unmet
        else:
            allowed = all(each.remedies for each in one_by_one.unmet)
            missing = "restricted" if allowed else "blocks_missing"
            served = not one_by_one.unmet
            assert together.shortage.cause == ("wanted_at_once" if served else missing)


def test_operations_are_built_and_put_away_one_by_one_and_points_as_a_series() -> None:
    targets: tuple[Target, ...] = in_turn(
        [
            LengthTarget(ref="op10", length=mm("11")),
            CheckPointsTarget(ref="m", points=(mm("11"), mm("12"))),
        ]
    )
    blocks = make_blocks("10 1 2")
    answer = solve(blocks, targets)

    first, *points = handwork(answer, targets, results(targets, answer, blocks), blocks)

    keys = [{step.said.key for step in each.steps} for each in (first, *points)]
    assert {"step.take", "step.apart"} <= keys[0]
    assert ["step.take" in each for each in keys] == [True, False, False]
