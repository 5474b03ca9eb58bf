"""What a request comes to by trying everything, and how findings and answers are held to it."""

import sys
from collections import Counter
from math import gcd
from typing import Final

from solver.metrology.test_measuring import measured
from solver.oracle import Best
from solver.proofs.exhaustive import Question, try_everything
from solver.proofs.whole_requests import WholeRequest
from wrung import Bounds
from wrung.deadline import Deadline
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.workbench import set_up
from wrung.planning.finding import Finding, Plan, Totals, totals
from wrung.planning.problem import Demand, Problem, error_of
from wrung.testing import Request

AMPLE_MS: Final = 60_000
LONG_TABLE: Final = 250_000
"""Steps that a table must at least hold before a search for twelve blocks may do without it."""
BOTH: Final = 2
WIDE_WINDOW: Final = 1_000
"""Likewise for the lengths in one window."""


def exhaustive(request: WholeRequest, demands: tuple[Demand, ...]) -> Best:
    """The best plan for these demands, by the figure of each stack as a whole."""
    measure, joint = request.error_measure, request.joint_allowance
    question = Question(
        blocks=request.usable(),
        objective=request.objective,
        joint_allowance=joint,
        measure=None
        if measure.usual
        else measured(Request(blocks=(), targets=(), joint_allowance=joint), measure),
        most_errors={
            demand.requirement.name: demand.most_error
            for demand in demands
            if demand.most_error is not None
        },
    )
    return try_everything(question, [demand.requirement for demand in demands])


def totals_of(wanted: Best) -> Totals:
    """In the terms of an engine."""
    return Totals(
        served=wanted.by_priority,
        blocks=wanted.total_blocks,
        largest_error=wanted.largest_error,
        total_error=wanted.total_error,
    )


def assert_proven(problem: Problem, found: Finding, wanted: Best) -> None:
    """Everything is proven, and so: for searches that no time ends."""
    assert found.plan is not None
    assert_rules(problem, found.plan)
    assert totals(problem, found.plan) == totals_of(wanted)
    assert (found.served_proven, found.objective_proven) == (True, True)
    assert_no_bound_above(found, wanted)


def assert_rules(problem: Problem, plan: Plan) -> None:
    """Every stack is what is asked for, and no block stands in two at one time."""
    for index, (demand, stack) in enumerate(zip(problem.demands, plan, strict=True)):
        if stack is not None:
            pieces = [problem.pieces[piece] for piece in stack]
            assert demand.low <= sum(piece.nominal for piece in pieces) <= demand.high
            assert sum(piece.wear for piece in pieces) == demand.wear
            assert sum(piece.step for piece in pieces) <= (0 if demand.wear == BOTH else 1)
            assert 1 <= len(stack) <= demand.most
            assert demand.allows(error_of(problem, index, stack))
    for clique in problem.cliques:
        held = (piece for demand in clique for piece in plan[demand] or ())
        used = [problem.pieces[piece].body for piece in held]
        assert len(used) == len(set(used))


def assert_no_bound_above(found: Finding, wanted: Best) -> None:
    """What is claimed of every plan holds of the best one."""
    bounds = found.bounds
    assert bounds.served >= wanted.served
    # Without a plan a bound only says something of plans that meet those before it.
    if found.plan is not None:
        assert_served_bounds(bounds, wanted)
    if bounds.served == wanted.served:
        assert (bounds.total_blocks or 0) <= wanted.total_blocks
        assert (bounds.largest_worst_case_error or 0) <= wanted.largest_error
        assert (bounds.total_worst_case_error or 0) <= wanted.total_error


def assert_served_bounds(bounds: Bounds, wanted: Best) -> None:
    """Class by class: a bound holds, and is met wherever something is said of the next."""
    said = [each.served for each in bounds.by_priority]
    for place, (bound, reached) in enumerate(zip(said, wanted.by_priority, strict=False)):
        if bound is None:
            assert set(said[place:]) == {None}
            return
        assert bound >= reached
        if bound > reached:
            assert set(said[place + 1 :]) <= {None}
            return


def report(seen: Counter[str]) -> None:
    """What was met how often; read it with ``-s``, or where a check of it fails."""
    line = ", ".join(f"{name}: {count}" for name, count in sorted(seen.items()))
    sys.stdout.write(f"\n{line}\n")


def is_contended(wanted: Best, alone: list[Best]) -> bool:
    """Whether the best stacks of the demands, each alone, cannot stand side by side."""
    sums = (
        sum(one.served for one in alone),
        sum(one.total_blocks for one in alone),
        sum(one.total_error for one in alone),
    )
    return sums != (wanted.served, wanted.total_blocks, wanted.total_error)


def several_grids(problem: Problem) -> bool:
    """Whether the engine has more than one table for a cost."""
    bench = set_up(problem, by_error(problem), Deadline(AMPLE_MS))
    return bench is not None and len(bench.layout.steps) > 1


def beyond_the_tables(problem: Problem) -> bool:
    """No gauge blocks; or lengths, or windows, of very many of the blocks' common steps."""
    gauges = [piece.nominal for piece in problem.pieces if not (piece.wear or piece.step)]
    if not gauges:
        return True
    longest = max(min(demand.high, sum(gauges)) for demand in problem.demands)
    widest = max(demand.high - demand.low for demand in problem.demands)
    step = gcd(*gauges)
    return longest // step > LONG_TABLE or widest // step > WIDE_WINDOW
