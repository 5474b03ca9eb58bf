"""Plans whose stacks differ greatly in size, of which some are built again together."""

from itertools import pairwise
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.problems import problem_of
from solver.proofs.agreement import assert_rules
from wrung import Objective, solve
from wrung.deadline import Deadline
from wrung.planning.building.recreating import recreated
from wrung.planning.building.stacking import first_plan
from wrung.planning.finding import Plan, totals, values_of
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

AMPLE_MS: Final = 60_000
EVERY: Final = Tuning(unlike=0.0)
"""Of all plans stacks are built again."""
WHOLE: Final = make_blocks(" ".join(map(str, range(1, 41))))
"""1 to 40 mm, which is 820 mm in all."""


def longest(plan: Plan) -> int:
    return max(len(stack or ()) for stack in plan)


@pytest.mark.parametrize("lengths", ["205 205 205 205", "150 170 240 260"])
def test_the_whole_shelf_is_shared(lengths: str) -> None:
    """All 40 blocks are needed, so that one of four stacks has 10 or more: half as many again do.

    One by one, three stacks take the long blocks, and the last one has 19 or 22 others.
    """
    request = Request(blocks=WHOLE, targets=make_targets(lengths), objective="least_error")
    problem = problem_of(request)
    plan = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    better = recreated(problem, plan, Deadline(AMPLE_MS))

    assert longest(plan) >= 19
    assert longest(better) <= 15
    assert_rules(problem, better)


def test_an_answer_has_no_stack_of_what_nobody_wanted() -> None:
    """Prices alone find no better plan, as each stack by itself could be short."""
    targets = make_targets("100 150 200 250 275 300")
    blocks = make_blocks(" ".join(map(str, range(1, 51))))

    answer = solve(blocks, targets, objective="least_error")

    assert not answer.unmet
    # All 50 blocks are needed for 1,275 mm, so that one of six stacks has 9 or more.
    assert max(len(stack.blocks) for stack in answer.stacks) <= 13


@settings(max_examples=40)
@given(requests(max_blocks=14, max_targets=5), st.sampled_from(["fewest_blocks", "least_error"]))
def test_no_plan_becomes_worse(request_: Request, objective: Objective) -> None:
    """By the goals in their order, with tolerances, wear blocks and times among the requests."""
    problem = problem_of(replace(request_, objective=objective))
    plan = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    better = recreated(problem, plan, Deadline(AMPLE_MS, tuning=EVERY))

    assert_rules(problem, better)
    assert values_of(problem, better) <= values_of(problem, plan)
    # Bounds that a search has proven are for so many of each class.
    assert totals(problem, better).served == totals(problem, plan).served


def test_stacks_that_are_much_alike_stay_as_they_are() -> None:
    """Searches find better plans of these, and need the time."""
    problem = problem_of(Request(blocks=WHOLE, targets=make_targets("41 43 45 47")))
    plan = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    assert recreated(problem, plan, Deadline(AMPLE_MS)) is plan


def test_the_same_plan_comes_of_it_each_time() -> None:
    """The order in which stacks are built again is drawn, but always in the same way."""
    request = Request(blocks=WHOLE, targets=make_targets("205 205 205 205"))
    problem = problem_of(request)
    plan = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    found = [recreated(problem, plan, Deadline(AMPLE_MS)) for _ in range(3)]

    assert all(one == other for one, other in pairwise(found))


def test_it_ends_with_the_time() -> None:
    """The plan is then as good as it was."""
    problem = problem_of(Request(blocks=WHOLE, targets=make_targets("205 205 205 205")))
    plan = first_plan(problem, Deadline(AMPLE_MS), quick=True)

    assert recreated(problem, plan, Deadline(0)) == plan
