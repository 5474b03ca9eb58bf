"""Plans of which a few stacks are chosen anew, so that more are served."""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.problems import problem_of
from solver.proofs.agreement import AMPLE_MS, assert_rules
from wrung import LengthTarget
from wrung.deadline import Deadline
from wrung.planning.assignment import as_candidates, hand_out
from wrung.planning.building.stacking import first_plan
from wrung.planning.candidates.goals import BLOCK, block_goal
from wrung.planning.candidates.quota import ByClass
from wrung.planning.candidates.stock import NEVER
from wrung.planning.candidates.walk import Candidates, no_candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan
from wrung.planning.objectives.fix_and_optimise import serving_more
from wrung.planning.objectives.serving import (
    all_candidates,
    bench_for_serving,
    most_among,
    own_caps,
)
from wrung.planning.pricing.prices import price
from wrung.planning.pricing.question import Question
from wrung.planning.problem import Problem
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

WHOLE: Final = Tuning(stacks_chosen_anew=20, effort_to_choose_anew=math.inf)
"""All stacks at once."""
FEW: Final = Tuning(stacks_chosen_anew=1, fewest_chosen_anew=1)
"""One, then two, ..."""


def listed(problem: Problem, tuning: Tuning) -> tuple[Workbench, Candidates] | None:
    """A workbench and all its candidates; None without one."""
    bench = bench_for_serving(problem, Deadline(AMPLE_MS, tuning=tuning))
    every = None if bench is None else all_candidates(bench, 10_000)
    return None if bench is None or every is None else (bench, every)


def shelf(
    blocks: str, targets: Sequence[LengthTarget], tuning: Tuning
) -> tuple[Workbench, Candidates]:
    """The same of a small shelf."""
    found = listed(problem_of(Request(blocks=make_blocks(blocks), targets=tuple(targets))), tuning)
    assert found is not None
    return found


def more_of(
    bench: Workbench,
    every: Candidates,
    plan: Plan,
    deadline: Deadline | None = None,
    asked: ByClass | None = None,
) -> Candidates:
    """The plan, or one of all candidates that serves more, if need be as many as are asked for."""
    possible = bench.counts(np.unique(every.demands))
    question = Question(
        bench=bench,
        goal=block_goal(bench.stock, bench.starts),
        caps=own_caps(bench),
        served=bench.quota(asked or possible),
        window=0,
        grain=BLOCK,
    )
    priced = price(question, no_candidates(), slack=1, enough=NEVER, deadline=bench.deadline)
    known = as_candidates(bench, plan)
    return serving_more(question, priced, every, known, deadline or bench.deadline)


@settings(max_examples=60)
@given(requests(max_blocks=12, max_targets=5), st.sampled_from([WHOLE, FEW]))
def test_none_serves_fewer_and_all_at_once_serve_the_most(
    request_: Request, tuning: Tuning
) -> None:
    """Of each class, with wear blocks, times and priorities among the requests."""
    problem = problem_of(request_)
    found = listed(problem, tuning)
    assume(found is not None)
    assert found is not None
    bench, every = found
    begun = first_plan(problem, bench.deadline, quick=True)

    better = more_of(bench, every, begun)

    counts = bench.counts(better.demands)
    assert_rules(problem, hand_out(bench, better))
    assert counts >= bench.counts(as_candidates(bench, begun).demands)
    if tuning is WHOLE:
        alone = bench.quota(bench.quota((0,) * len(counts)).sizes)
        assert counts == most_among(bench, every, alone, bench.deadline).counts


def test_a_stack_makes_way_for_three() -> None:
    """6 mm of all three blocks, or each of them by itself."""
    bench, every = shelf("1 2 3", make_targets("6 1 2 3"), FEW)

    found = more_of(bench, every, ((0, 1, 2), None, None, None))

    assert sorted(found.demands.tolist()) == [1, 2, 3]


def test_it_begins_without_a_plan() -> None:
    """Then all are chosen."""
    bench, every = shelf("1 2 3", make_targets("6 1 2 3"), Tuning())

    assert len(more_of(bench, every, (None,) * 4)) == 3


def test_a_more_urgent_stack_is_not_given_up_for_others() -> None:
    """One of the first class is worth more than three of the second."""
    targets = make_targets("6 1 2 3")
    urgent = (replace(targets[0], priority=1), *(replace(t, priority=2) for t in targets[1:]))
    bench, every = shelf("1 2 3", urgent, FEW)

    for begun in (((0, 1, 2), None, None, None), (None, (0,), (1,), (2,))):
        assert more_of(bench, every, begun).demands.tolist() == [0]


@pytest.mark.parametrize("asked", [(2, 1, 0), (2, 0, 1), (2, 1, 1)], ids=str)
@pytest.mark.parametrize("tuning", [WHOLE, FEW], ids=["whole", "few"])
def test_none_of_a_later_class_is_given_up(asked: ByClass, tuning: Tuning) -> None:
    """Of two that need 11 mm one is served, and then more of the others than beside both."""
    lengths = make_targets("11 12 1 2 3")
    targets = tuple(replace(t, priority=n) for t, n in zip(lengths, (1, 1, 2, 2, 3), strict=True))
    bench, every = shelf("11 1 2 3", targets, tuning)

    for begun in (((0,), None, (1,), (2,), (3,)), ((0,), None, (1,), None, None)):
        found = more_of(bench, every, begun, asked=asked)
        assert bench.counts(found.demands) == (1, 2, 1)


def test_it_ends_with_the_time() -> None:
    """The plan is then as good as it was."""
    bench, every = shelf("1 2 3", make_targets("6 1 2 3"), FEW)

    found = more_of(bench, every, ((0, 1, 2), None, None, None), Deadline(0))

    assert found.demands.tolist() == [0]
