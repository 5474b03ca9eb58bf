"""Blocks against the largest error, held to every plan that there is."""

from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle
from solver.metrology.test_measuring import BY_SQUARES, BY_VARIANCE, measured
from solver.problems import problem_of
from wrung import Block, Cancel, InputError, Objective, TradeOff, mm, solve, trade_off, um
from wrung.checker.choices import verify_trade_off
from wrung.deadline import Deadline
from wrung.metrology import WORST_CASE, ErrorMeasure
from wrung.options import Options
from wrung.order import Order
from wrung.planning import trade_off as planned
from wrung.planning.assembly import BestPlan
from wrung.planning.execution import best_plan
from wrung.planning.finding import found
from wrung.planning.problem import build_problem
from wrung.planning.proof import Proof
from wrung.planning.trade_off import frontier, start
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

AMPLE_MS: Final = 60_000
MEASURES: Final = (ErrorMeasure(corrected=True), BY_VARIANCE, BY_SQUARES)

Points = list[tuple[int, int, int]]


def every_point(
    request: Request, measure: ErrorMeasure = WORST_CASE, most_error: int | None = None
) -> Points:
    usable = [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]
    return oracle.frontier(
        usable,
        [each for target in request.targets for each in target.requirements()],
        joint_allowance=request.joint_allowance,
        measure=None if measure.usual else measured(request, measure),
        most_error=most_error,
    )


def asked(request: Request, measure: ErrorMeasure = WORST_CASE) -> TradeOff:
    """The trade-off, once the checker has confirmed it."""
    blocks, targets = request.blocks, request.targets
    options = Options(
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        error_measure=measure,
    )
    answer = solve(blocks, targets, time_limit_ms=AMPLE_MS, **options)
    found = trade_off(blocks, targets, answer, time_limit_ms=AMPLE_MS, **options)
    assert not verify_trade_off(blocks, targets, answer, found, **options)
    return found


@given(requests(max_blocks=7, max_targets=3))
def test_the_points_are_all_plans_that_no_plan_beats(request: Request) -> None:
    """Of either objective's answer: each with the least total of errors, too, and proven."""
    found = asked(request)

    assert [
        (p.total_blocks, p.largest_worst_case_error, p.total_worst_case_error) for p in found.points
    ] == every_point(request)
    assert found.complete
    assert all(point.proven for point in found.points)


@given(requests(max_blocks=6, max_targets=2), st.sampled_from(MEASURES))
def test_errors_are_by_the_measure_asked_for(request: Request, measure: ErrorMeasure) -> None:
    found = asked(request, measure)
    compared = [point.compared_errors for point in found.points]

    assert [
        (point.total_blocks, figures.largest, figures.total)
        for point, figures in zip(found.points, compared, strict=True)
        if figures is not None
    ] == every_point(request, measure)
    assert found.complete


@given(requests(max_blocks=7, max_targets=2), st.integers(0, 40))
def test_a_required_ratio_ends_the_trade_off_sooner(request: Request, tenths: int) -> None:
    """Stacks of larger errors are no stacks at all."""
    most = um("0.1") * tenths
    problem = problem_of(request)
    limited = replace(
        problem, demands=tuple(replace(demand, most_error=most) for demand in problem.demands)
    )
    deadline = Deadline(AMPLE_MS)
    found = frontier(limited, start(limited, deadline), deadline)
    values = [point.totals for point in found.points]

    assert [(v.blocks, v.largest_error, v.total_error) for v in values] == every_point(
        request, most_error=most
    )
    assert found.complete


class TestWhatItSays:
    """One good 5 mm block and one bad; 2 + 3 mm that are good, too."""

    SHELF = (
        *make_blocks("5 3 2", limit_deviation="0.1"),
        Block(id="bad", nominal=mm("5"), limit_deviation=um("1")),
    )

    def points(self, lengths: str, objective: Objective = "fewest_blocks") -> list[tuple[int, int]]:
        targets = make_targets(lengths)
        options = Options(objective=objective, joint_allowance=0)
        answer = solve(self.SHELF, targets, **options)
        found = trade_off(self.SHELF, targets, answer, **options)
        assert found.complete
        return [(p.total_blocks, p.largest_worst_case_error) for p in found.points]

    def test_more_blocks_buy_a_smaller_error(self) -> None:
        assert self.points("5 5") == [(2, um("1")), (3, um("0.2"))]

    def test_both_objectives_have_the_same_ends(self) -> None:
        assert self.points("5 5", objective="least_error") == self.points("5 5")

    def test_what_is_best_in_both_is_the_only_point(self) -> None:
        assert self.points("5") == [(1, um("0.1"))]

    def test_it_is_about_the_most_that_can_be_served(self) -> None:
        """Three of four; a smaller error with fewer stacks is no point."""
        assert self.points("5 5 5 5") == [(4, um("1"))]

    def test_nothing_that_can_be_built_has_no_points(self) -> None:
        assert self.points("7.5") == []


def test_an_ended_search_says_that_it_may_go_on() -> None:
    shelf, targets = TestWhatItSays.SHELF, make_targets("5 5")
    answer = solve(shelf, targets, joint_allowance=0)
    cancel = Cancel()
    cancel.cancel()
    found = trade_off(shelf, targets, answer, cancel=cancel, joint_allowance=0)

    assert len(found.points) == 1
    assert found.points[0].proven
    assert not found.complete


def unproven(best: BestPlan) -> BestPlan:
    first = best.finding.proof.levels[0]
    return replace(best, finding=replace(best.finding, proof=Proof(bound=first)))


def test_a_plan_that_was_not_proven_is_no_proven_point() -> None:
    """Each search stops short of its proof: all points are there, and none is claimed."""
    shelf, targets = TestWhatItSays.SHELF, make_targets("5 5")
    problem = build_problem(
        Order(blocks=shelf, targets=targets, objective="fewest_blocks", joint_allowance=0)
    )
    deadline = Deadline(AMPLE_MS)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planned, "best_plan", lambda *args: unproven(best_plan(*args)))
        found = frontier(problem, start(problem, deadline), deadline)

    assert [point.totals.blocks for point in found.points] == [2, 3]
    assert not any(point.objective_proven for point in found.points)
    assert not found.complete


def test_a_first_plan_that_is_beaten_in_both_is_dropped() -> None:
    """It was not proven; the next one has no more blocks and a smaller error."""
    shelf, targets = TestWhatItSays.SHELF, make_targets("5")
    problem = build_problem(
        Order(blocks=shelf, targets=targets, objective="fewest_blocks", joint_allowance=0)
    )
    plan = ((3,),)  # the bad block
    beaten = found(problem, plan, Proof(settled=(0,)))
    further = frontier(problem, beaten, Deadline(AMPLE_MS))

    assert [point.plan for point in further.points] == [((0,),)]
    assert further.complete


def test_only_so_many_points_are_given() -> None:
    shelf, targets = TestWhatItSays.SHELF, make_targets("5 5")
    problem = build_problem(
        Order(blocks=shelf, targets=targets, objective="fewest_blocks", joint_allowance=0)
    )
    deadline = Deadline(AMPLE_MS, tuning=Tuning(most_trade_off_points=1))
    found = frontier(problem, start(problem, deadline), deadline)

    assert len(found.points) == 1
    assert not found.complete


def test_no_time_is_no_request() -> None:
    shelf, targets = TestWhatItSays.SHELF, make_targets("5")
    with pytest.raises(InputError) as caught:
        trade_off(shelf, targets, solve(shelf, targets), time_limit_ms=0)

    assert [fault.pointer for fault in caught.value.faults] == ["/time_limit_ms"]
