"""Plans of which a few stacks are chosen anew, so that more are served."""

import math
from typing import Final

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.problems import problem_of
from solver.proofs.agreement import AMPLE_MS, assert_rules
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


def bench_of(problem: Problem, tuning: Tuning) -> Workbench | None:
    return bench_for_serving(problem, Deadline(AMPLE_MS, tuning=tuning))


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
    bench = bench_of(problem, tuning)
    assume(bench is not None)
    assert bench is not None
    every = all_candidates(bench, 10_000)
    assert every is not None
    begun = first_plan(problem, bench.deadline, quick=True)

    found = more_of(bench, every, begun)

    counts = bench.counts(found.demands)
    assert_rules(problem, hand_out(bench, found))
    assert counts >= bench.counts(as_candidates(bench, begun).demands)
    if tuning is WHOLE:
        alone = bench.quota(bench.quota((0,) * len(counts)).sizes)
        assert counts == most_among(bench, every, alone, bench.deadline).counts


def test_a_stack_makes_way_for_three() -> None:
    """6 mm of all three blocks, or each of them by itself."""
    request = Request(blocks=make_blocks("1 2 3"), targets=make_targets("6 1 2 3"))
    bench = bench_of(problem_of(request), FEW)
    assert bench is not None
    every = all_candidates(bench, 100)
    assert every is not None

    found = more_of(bench, every, ((0, 1, 2), None, None, None))

    assert sorted(found.demands.tolist()) == [1, 2, 3]


def test_it_begins_without_a_plan() -> None:
    """Then all are chosen."""
    request = Request(blocks=make_blocks("1 2 3"), targets=make_targets("6 1 2 3"))
    bench = bench_of(problem_of(request), Tuning())
    assert bench is not None
    every = all_candidates(bench, 100)
    assert every is not None

    assert len(more_of(bench, every, (None,) * 4)) == 3


def test_a_more_urgent_stack_is_not_given_up_for_others() -> None:
    """One of the first class is worth more than three of the second."""
    targets = make_targets("6 1 2 3")
    urgent = (replace(targets[0], priority=1), *(replace(t, priority=2) for t in targets[1:]))
    bench = bench_of(problem_of(Request(blocks=make_blocks("1 2 3"), targets=urgent)), FEW)
    assert bench is not None
    every = all_candidates(bench, 100)
    assert every is not None

    for begun in (((0, 1, 2), None, None, None), (None, (0,), (1,), (2,))):
        assert more_of(bench, every, begun).demands.tolist() == [0]


@pytest.mark.parametrize("asked", [(2, 1, 0), (2, 0, 1), (2, 1, 1)], ids=str)
@pytest.mark.parametrize("tuning", [WHOLE, FEW], ids=["whole", "few"])
def test_none_of_a_later_class_is_given_up(asked: ByClass, tuning: Tuning) -> None:
    """Of two that need 11 mm one is served, and then more of the others than beside both."""
    lengths = make_targets("11 12 1 2 3")
    targets = tuple(replace(t, priority=n) for t, n in zip(lengths, (1, 1, 2, 2, 3), strict=True))
    bench = bench_of(problem_of(Request(blocks=make_blocks("11 1 2 3"), targets=targets)), tuning)
    assert bench is not None
    every = all_candidates(bench, 1000)
    assert every is not None

    for begun in (((0,), None, (1,), (2,), (3,)), ((0,), None, (1,), None, None)):
        found = more_of(bench, every, begun, asked=asked)
        assert bench.counts(found.demands) == (1, 2, 1)


def test_it_ends_with_the_time() -> None:
    """The plan is then as good as it was."""
    request = Request(blocks=make_blocks("1 2 3"), targets=make_targets("6 1 2 3"))
    bench = bench_of(problem_of(request), FEW)
    assert bench is not None
    every = all_candidates(bench, 100)
    assert every is not None

    found = more_of(bench, every, ((0, 1, 2), None, None, None), Deadline(0))

    assert found.demands.tolist() == [0]
