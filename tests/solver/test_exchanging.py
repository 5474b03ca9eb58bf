"""Plans that are improved: blocks exchanged for others of their lengths, few stacks built anew."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from itertools import combinations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.problems import problem_of
from wrung import Objective, Tolerance
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.assignment import as_candidates, hand_out
from wrung.planning.building.stacking import first_plan
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.workbench import set_up
from wrung.planning.engine import search
from wrung.planning.finding import Plan, totals, values_of
from wrung.planning.objectives.exchanging import exchanged
from wrung.planning.objectives.neighbourhoods import improved
from wrung.planning.problem import Problem, build_problem, error_of
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

Alike = Counter[tuple[int, bool, int | None]]


def lengths(problem: Problem, stack: Sequence[int]) -> Alike:
    """Lengths and roles of its blocks; a step is alike to itself alone."""
    pieces = [problem.pieces[index] for index in stack]
    return Counter(
        (own.nominal, own.wear, index if own.step else None)
        for index, own in zip(stack, pieces, strict=True)
    )


def ways(problem: Problem, demand: int, stack: tuple[int, ...] | None) -> Iterator[Plan]:
    """Every stack of the same lengths that the demand allows."""
    if stack is None:
        yield (None,)
        return
    for other in combinations(range(len(problem.pieces)), len(stack)):
        alike = lengths(problem, other) == lengths(problem, stack)
        if alike and problem.demands[demand].allows(error_of(problem, demand, other)):
            yield (other,)


def side_by_side(problem: Problem, plan: Plan) -> bool:
    """Whether no block is in two stacks at one time."""
    for clique in problem.cliques:
        held = [index for demand in clique for index in plan[demand] or ()]
        if len(held) > len(set(held)):
            return False
    return True


def errors(problem: Problem, plan: Plan) -> tuple[int, int]:
    """The largest and the total."""
    of = totals(problem, plan)
    return of.largest_error, of.total_error


@given(requests(max_blocks=9, max_targets=3))
def test_no_other_blocks_of_the_same_lengths_leave_smaller_errors(request: Request) -> None:
    problem, deadline = problem_of(request), Deadline(60_000)
    bench, plan = set_up(problem, by_error(problem), deadline), first_plan(problem, deadline)
    if bench is None or not any(plan):
        return

    best = hand_out(bench, exchanged(bench, as_candidates(bench, plan), deadline))

    others = product(*(ways(problem, demand, stack) for demand, stack in enumerate(plan)))
    plans = (sum(other, ()) for other in others)
    assert errors(problem, best) == min(
        errors(problem, other) for other in plans if side_by_side(problem, other)
    )
    assert side_by_side(problem, best)
    for before, after in zip(plan, best, strict=True):
        assert lengths(problem, before or ()) == lengths(problem, after or ())


def at(hour: int) -> datetime:
    """That hour of a day."""
    return datetime(2031, 3, 3, hour, tzinfo=UTC)


@settings(max_examples=10)
@given(st.lists(st.integers(-5000, 5000), min_size=12, max_size=12))
@pytest.mark.parametrize(
    ("objective", "tolerance"), [("fewest_blocks", 0), ("least_error", 1_000_000)]
)
def test_stacks_built_anew_are_no_worse_than_before_nor_better_than_the_best(
    objective: Objective, tolerance: int, deviations: list[int]
) -> None:
    shelf = make_blocks("1.01 1.01 1.02 1.02 1.03 1.03 1 1 2 2 3 3")
    blocks = [
        replace(own, deviation=off, expanded_uncertainty=500)
        for own, off in zip(shelf, deviations, strict=True)
    ]
    problem = build_problem(
        Order(
            blocks=blocks,
            targets=[
                replace(
                    own,
                    tolerance=Tolerance(lower=-tolerance, upper=tolerance),
                    needed_from=at(8 + hour),
                    needed_until=at(10 + hour),
                )
                for hour, own in enumerate(make_targets("2.01 3.02 4.03 2.02 2.01 2.01"))
            ],
            objective=objective,
            joint_allowance=0,
        )
    )
    deadline = Deadline(60_000, tuning=Tuning(stacks_built_anew=2))
    plan, proven = first_plan(problem, deadline), search(problem, deadline)
    assert proven is not None

    better = improved(problem, plan, search, deadline)

    assert proven.values <= values_of(problem, better) <= values_of(problem, plan)
    assert side_by_side(problem, better)
    for demand, stack in zip(problem.demands, better, strict=True):
        length = sum(problem.pieces[index].nominal for index in stack or ())
        assert demand.low <= length <= demand.high
