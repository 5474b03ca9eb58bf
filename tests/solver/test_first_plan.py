"""The plan that there is before any search: real, and what a hurried search falls back on."""

from typing import Final
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from solver.problems import problem_of
from solver.proofs.agreement import assert_rules
from wrung import Block, GaugeSet, LengthTarget, Tolerance, mm
from wrung.deadline import Deadline
from wrung.planning import engine, engines
from wrung.planning.building.stacking import Stacking, as_plan, first_plan
from wrung.planning.engines import ask
from wrung.planning.finding import Engine, Finding, Plan, totals
from wrung.planning.problem import Problem
from wrung.testing import Request, make_blocks, make_targets, requests

AMPLE_MS: Final = 60_000
HURRIED_MS: Final = 900


def inches(lengths: str, sets: int) -> Problem:
    """These lengths from so many inch sets."""
    blocks = set_blocks("inch-81", "AS-1", sets)
    return problem_of(Request(blocks=blocks, targets=make_targets(lengths, unit="in")))


def set_blocks(composition: str, grade: str, sets: int) -> tuple[Block, ...]:
    """The blocks of so many sets."""
    return tuple(
        block
        for number in range(sets)
        for block in GaugeSet(
            id=f"{composition} {number}", composition=composition, grade=grade
        ).blocks()
    )


def served(plan: Plan) -> int:
    return len(plan) - plan.count(None)


@given(requests(max_blocks=12, max_targets=4))
def test_it_keeps_every_rule(request_: Request) -> None:
    """Whatever it serves, it serves with stacks that can stand side by side."""
    problem = problem_of(request_)

    assert_rules(problem, first_plan(problem, Deadline(AMPLE_MS)))


def test_what_can_be_served_from_what_is_left_is_served() -> None:
    """Of one target nothing is taken that it could do without, so the other finds its block."""
    problem = problem_of(Request(blocks=make_blocks("1 2 3 4"), targets=make_targets("4 3 3")))

    assert first_plan(problem, Deadline(AMPLE_MS)) == ((3,), (2,), (0, 1))


@pytest.mark.parametrize("upper", ["-0.5", "-0.6"])
def test_windows_that_lie_below_every_block_leave_nothing(upper: str) -> None:
    """As where a required ratio leaves no length that any stack could have."""
    below = Tolerance(lower=-mm("1"), upper=mm(upper))
    targets = [LengthTarget(ref=ref, length=mm("0.5"), tolerance=below) for ref in "ab"]
    problem = problem_of(Request(blocks=make_blocks("0.5 1"), targets=tuple(targets)))

    assert first_plan(problem, Deadline(AMPLE_MS)) == (None, None)


@pytest.mark.parametrize("sets", [1, 2, 3, 8])
def test_targets_with_different_last_digits_are_all_served(sets: int) -> None:
    """Each takes one block of the finest series, however many of its length there are."""
    lengths = " ".join(f"1.{number}3{number}{number}" for number in range(1, 9))
    problem = inches(lengths, sets)

    plan = first_plan(problem, Deadline(AMPLE_MS))

    assert_rules(problem, plan)
    assert served(plan) == 8


def test_two_sets_serve_twice_as_many_of_the_same_last_digit() -> None:
    """Patterns of one block a length are enough to use all blocks of it."""
    lengths = " ".join(f"1.{number}307" for number in range(1, 9))
    problem = inches(lengths, sets=8)

    plan = first_plan(problem, Deadline(AMPLE_MS))

    assert_rules(problem, plan)
    assert served(plan) == 8


def test_stacks_of_inch_and_of_metric_blocks_are_read_from_tables() -> None:
    """A table for both would have 5 million lengths for each count of blocks."""
    blocks = (*set_blocks("inch-81", "AS-1", 1), *set_blocks("metric-112-1", "1", 1))
    metric = make_targets(" ".join(f"{10 * n}.{n}{n}{n}" for n in range(1, 7)))
    inch = make_targets(" ".join(f"2.{n}41{n}" for n in range(1, 7)), unit="in")
    targets = [replace(target, ref=f"in {target.ref}") for target in inch]
    problem = problem_of(Request(blocks=blocks, targets=(*metric, *targets)))

    plan = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    assert_rules(problem, plan)
    assert served(plan) == 12


def test_stacks_of_many_metric_sets_are_read_from_tables() -> None:
    """With all ways to use their fine blocks told apart, tables would have the step of these."""
    blocks = set_blocks("metric-112-1", "1", 4)
    lengths = " ".join(f"{n}.{n}{n % 10}" for n in range(20, 50))
    problem = problem_of(Request(blocks=blocks, targets=make_targets(lengths)))

    plan = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    assert_rules(problem, plan)
    assert served(plan) == 30


def test_stacks_make_way_for_more() -> None:
    """Taken in order, some find no blocks left that earlier ones could do without."""
    blocks = make_blocks("1.1 1.2 1.3 1.4 5.1 5.2 5.3 5.4 1 2 3 4")
    problem = problem_of(Request(blocks=blocks, targets=make_targets("6.5 6.6 6.7 5.4 5.3 2.4")))
    greedy = Stacking(problem, effort=len(problem.demands))
    thorough = Stacking(problem, effort=1_000)
    nothing = (0,) * len(problem.demands)

    few = as_plan(greedy.with_more(nothing, Deadline(AMPLE_MS)))
    more = as_plan(thorough.with_more(nothing, Deadline(AMPLE_MS)))

    assert_rules(problem, more)
    assert served(few) < served(more)


@settings(max_examples=25)
@given(requests(max_blocks=12, max_targets=6))
def test_a_plan_that_is_begun_never_serves_fewer(request_: Request) -> None:
    """Of no class, unless it serves more of one that is more urgent."""
    problem = problem_of(request_)
    begun = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    plan = first_plan(problem, Deadline(AMPLE_MS), begun)

    assert_rules(problem, plan)
    assert totals(problem, plan).served >= totals(problem, begun).served


def finds_nothing(problem: Problem, deadline: Deadline) -> Finding | None:
    """An engine that needs all the time there is."""
    del problem, deadline
    return None


def with_engine(search: Engine, problem: Problem, limit_ms: float) -> Finding:
    with patch.object(engines, "ENGINES", (("candidates", search),)):
        return ask(problem, Deadline(limit_ms))


def test_a_hurried_search_falls_back_on_it() -> None:
    """Where no engine finds a plan, it is the answer, and nothing is claimed of it."""
    problem = problem_of(Request(blocks=make_blocks("1 2 3 4"), targets=make_targets("4 3 9")))

    found = with_engine(finds_nothing, problem, HURRIED_MS)

    assert found.plan == first_plan(problem, Deadline(AMPLE_MS))
    assert found.bounds.served == 3
    assert not found.served_proven
    assert not found.objective_proven


def test_a_better_plan_is_taken_in_its_place() -> None:
    """The engine's proof holds whatever the first plan was."""
    problem = problem_of(Request(blocks=make_blocks("1 2 3 4"), targets=make_targets("4 3")))
    found = with_engine(engine.search, problem, AMPLE_MS)

    assert found.objective_proven
    assert with_engine(engine.search, problem, HURRIED_MS) == found
