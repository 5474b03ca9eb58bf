"""Blocks against the largest error, held to every plan that there is."""

from typing import Final

from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle
from solver.metrology.test_measuring import BY_VARIANCE, measured
from wrung import TradeOff, solve, trade_off, um
from wrung.metrology import WORST_CASE, ErrorMeasure
from wrung.planning.deadline import Deadline
from wrung.planning.finding import totals
from wrung.planning.frontier import frontier, start
from wrung.planning.problem import Problem, build_problem
from wrung.testing import Request, requests

AMPLE_MS: Final = 60_000
MEASURES: Final = (ErrorMeasure(corrected=True), BY_VARIANCE)

Points = list[tuple[int, int, int]]


def problem_of(request: Request) -> Problem:
    return build_problem(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )


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
    answer = solve(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        error_measure=measure,
        time_limit_ms=AMPLE_MS,
    )
    return trade_off(
        request.blocks,
        request.targets,
        answer,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        error_measure=measure,
        time_limit_ms=AMPLE_MS,
    )


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
    compared = [point.compared for point in found.points]

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
    values = [totals(limited, point.plan) for point in found.points]

    assert [(v.blocks, v.largest_error, v.total_error) for v in values] == every_point(
        request, most_error=most
    )
    assert found.complete
