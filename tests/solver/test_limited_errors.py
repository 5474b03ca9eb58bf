"""Demands that allow so much error only: every engine, held to the exhaustive search.

`WRUNG_LIMITED_CASES=2000` tries more requests than the usual 200.
"""

import os
from collections.abc import Sequence
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle, oracle_engine
from solver.problems import problem_of
from wrung import Block, LengthTarget, Objective, mm, um
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning import direct, engine
from wrung.planning.finding import Finding, totals
from wrung.planning.problem import Problem, build_problem, error_of
from wrung.testing import Request, make_targets, requests

CASES: Final = int(os.environ.get("WRUNG_LIMITED_CASES", "200"))
AMPLE_MS: Final = 60_000
OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "least_error")


def limited(problem: Problem, most_errors: Sequence[int | None]) -> Problem:
    """The same, each demand with its limit."""
    pairs = zip(problem.demands, most_errors, strict=True)
    return replace(problem, demands=tuple(replace(d, most_error=most) for d, most in pairs))


@st.composite
def limited_problems(draw: st.DrawFn, *, max_blocks: int = 8, max_targets: int = 3) -> Problem:
    """Limits that are just kept, just missed, never kept, of no effect or absent, by demand."""
    request: Request = draw(requests(max_blocks=max_blocks, max_targets=max_targets))
    problem = problem_of(request)
    shelf = [piece.block for piece in problem.pieces]
    limits: list[int | None] = []
    for demand in problem.demands:
        there = oracle.candidates(shelf, demand.requirement, problem.joint_allowance)
        some = draw(st.sampled_from([stack.error for stack in there] or [0]))
        limits.append(draw(st.sampled_from((None, -1, 1 << 80, some - 1, some, some, some))))
    return limited(problem, limits)


def reached(problem: Problem, found: Finding) -> tuple[bool, bool, oracle.Key]:
    """What is proven, and the values of the objective; every stack keeps to its limit."""
    assert found.plan is not None
    for demand, stack in enumerate(found.plan):
        assert stack is None or problem.demands[demand].allows(error_of(problem, demand, stack))
    of = totals(problem, found.plan)
    key = (*of.served, of.blocks, of.largest_error, of.total_error)
    return found.served_proven, found.objective_proven, key


@settings(max_examples=CASES)
@given(limited_problems())
def test_every_engine_agrees_with_an_exhaustive_search(problem: Problem) -> None:
    """Number served, blocks, largest and total error, all proven."""
    wanted = reached(problem, oracle_engine.search(problem, Deadline(AMPLE_MS)))
    found = engine.search(problem, Deadline(AMPLE_MS))

    assert found is None or reached(problem, found) == wanted
    assert reached(problem, direct.search(problem, Deadline(AMPLE_MS))) == wanted


@settings(max_examples=max(CASES // 10, 1))
@given(limited_problems(max_blocks=12, max_targets=4))
def test_two_engines_that_share_no_model_agree(problem: Problem) -> None:
    """Up to 12 blocks, most of them contended."""
    found = engine.search(problem, Deadline(AMPLE_MS))
    other = direct.search(problem, Deadline(AMPLE_MS))

    assert found is None or reached(problem, found) == reached(problem, other)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_limit_decides_who_gets_the_good_block(objective: Objective) -> None:
    """Both want 10 mm; only the second needs the better block of the two."""
    shelf = tuple(
        Block(id=name, nominal=mm("10"), limit_deviation=um(limit))
        for name, limit in (("good", "0.1"), ("poor", "0.3"))
    )
    targets: tuple[LengthTarget, ...] = make_targets("10 10")
    problem = build_problem(
        Order(blocks=shelf, targets=targets, objective=objective, joint_allowance=0)
    )
    problem = limited(problem, (None, um("0.2")))

    found = engine.search(problem, Deadline(AMPLE_MS))

    assert found is not None
    assert (found.plan, found.objective_proven) == (((1,), (0,)), True)
