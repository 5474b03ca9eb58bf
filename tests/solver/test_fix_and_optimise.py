"""Plans of which a few stacks are chosen anew, so that more are served, or at a lower cost."""

import math
from collections.abc import Sequence
from datetime import UTC, datetime
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
from wrung.planning.candidates.goals import BLOCK
from wrung.planning.candidates.quota import ByClass
from wrung.planning.candidates.stock import NEVER, join_rows
from wrung.planning.candidates.walk import Candidates, distinct, no_candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan
from wrung.planning.objectives.closing import Closing, Settled
from wrung.planning.objectives.fix_and_optimise import costing_less, serving_more
from wrung.planning.objectives.serving import (
    all_candidates,
    bench_for_serving,
    block_question,
    most_among,
)
from wrung.planning.pricing.prices import dearest, price
from wrung.planning.problem import Problem
from wrung.planning.selection.choice import Choice
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

WHOLE: Final = Tuning(
    stacks_chosen_anew=20, effort_to_choose_anew=math.inf, effort_for_a_plan=math.inf
)
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
    question = block_question(bench, asked or possible)
    priced = price(question, no_candidates(), slack=1, enough=NEVER, deadline=bench.deadline)
    known = as_candidates(bench, plan)
    return serving_more(question, priced, every, known, deadline or bench.deadline)


def with_fewer_blocks(
    bench: Workbench, every: Candidates, known: Candidates, least: int = 0
) -> Candidates:
    """The plan, or one of all candidates that serves as many with fewer blocks."""
    question = block_question(bench, bench.counts(known.demands))
    priced = price(question, no_candidates(), slack=1, enough=NEVER, deadline=bench.deadline)
    return costing_less(question, priced, every, known, least * BLOCK, bench.deadline)


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


@settings(max_examples=60)
@given(requests(max_blocks=12, max_targets=5), st.sampled_from([WHOLE, FEW]))
def test_as_many_are_served_and_all_at_once_have_the_fewest_blocks(
    request_: Request, tuning: Tuning
) -> None:
    """Neither fewer nor more of a class, with wear blocks, times and priorities."""
    problem = problem_of(request_)
    found = listed(problem, tuning)
    assume(found is not None)
    assert found is not None
    bench, every = found
    begun = as_candidates(bench, first_plan(problem, bench.deadline, quick=True))
    assume(len(begun))
    as_many = bench.quota(bench.counts(begun.demands))
    most, least = (
        Choice(bench, every, as_many).solve("least_sum", sign * every.counts, bench.deadline)
        for sign in (-1, 1)
    )
    assert most.verdict == least.verdict == "best"

    better = with_fewer_blocks(bench, every, every.where(most.rows))

    assert_rules(problem, hand_out(bench, better))
    assert bench.counts(better.demands) == as_many.counts
    assert least.value <= better.counts.sum() <= -most.value
    if tuning is WHOLE:
        assert better.counts.sum() == least.value


def test_two_stacks_exchange_their_blocks() -> None:
    """5 mm of 2 and 3, 9 mm of 4 and 5: either needs a block of the other to have fewer in all."""
    bench, every = shelf("2 3 4 5 7", make_targets("5 9"), FEW)

    found = with_fewer_blocks(bench, every, as_candidates(bench, ((0, 1), (2, 3))))

    assert found.counts.sum() == 3


def test_a_plan_with_the_fewest_blocks_stays() -> None:
    """No choice is made where the bound is met."""
    bench, every = shelf("1 2 3", make_targets("3"), Tuning())

    known = as_candidates(bench, ((0, 1),))

    assert with_fewer_blocks(bench, every, known, least=2).counts.sum() == 2


def closed(
    bench: Workbench, begun: Plan, *, tried: int = 0, quick: bool = False
) -> tuple[Candidates, bool]:
    """What comes of a plan where nothing is listed as a whole, and whether it is spelt out."""
    known = as_candidates(bench, begun)
    question = replace(block_question(bench, bench.counts(known.demands)), quick=quick)
    priced = price(question, no_candidates(), slack=1, enough=NEVER, deadline=bench.deadline)
    value = int(question.goal.costs(known).sum())
    found = Settled(end="open", value=value, bound=0, chosen=known)
    most = dearest(question)
    closing = Closing(question, priced, most, bench.deadline, found, tried=tried)
    return closing.run().chosen, bench.spelt_out


def test_stacks_of_a_known_plan_are_on_offer_with_those_near_the_prices() -> None:
    """Of each target the nearest one: these do not fit side by side, but some with a known one."""
    tuning = Tuning(most_offered=0, nearest_each=(1, 1, 1))
    bench, _ = shelf("5 1.3 1.5 1 1.5 1.2 4 4 7 1", make_targets("8 7 4"), tuning)

    found, _ = closed(bench, ((1, 2, 5, 6), (0, 3, 9), (7,)), quick=True)

    assert len(found) == 3
    assert found.counts.sum() < 8


def test_where_rounding_is_done_with_stacks_are_still_chosen_anew() -> None:
    """Starts are spelt out, and times differ; prices come to no plan by themselves."""
    day = datetime(2031, 3, 3, tzinfo=UTC)
    early, late = (
        {"needed_from": day.replace(hour=hour), "needed_until": day.replace(hour=hour + 1)}
        for hour in (8, 10)
    )
    wanted = zip(make_targets("5.3 8 6"), (early, early, late), strict=True)
    targets = [replace(target, **time) for target, time in wanted]
    bench, _ = shelf("1.5 3 4 1.2 2 1.3 6 1.4 4", targets, Tuning(most_offered=0))

    found, spelt_out = closed(bench, ((2, 5), (4, 6), (0, 3, 4, 5)), tried=1)

    assert spelt_out
    assert len(found) == 3
    assert found.counts.sum() < 8


def test_without_any_effort_a_plan_stays_as_it_is() -> None:
    """The search ends at once."""
    bench, every = shelf("2 3 4 5 7", make_targets("5 9"), Tuning(effort_to_choose_anew=0))

    found = with_fewer_blocks(bench, every, as_candidates(bench, ((0, 1), (2, 3))))

    assert found.counts.sum() == 4
    assert not bench.deadline.passed


@given(requests(max_blocks=12, max_targets=5))
def test_a_choice_that_begins_with_a_plan_is_as_good(request_: Request) -> None:
    """Whatever the plan, also where it is not among the choices that are allowed."""
    found = listed(problem_of(request_), Tuning())
    assume(found is not None)
    assert found is not None
    bench, every = found
    begun = as_candidates(bench, first_plan(bench.problem, bench.deadline, quick=True))
    offered = distinct(join_rows([begun, every]))

    near, plain = (Choice(bench, offered, bench.quota(bench.counts(begun.demands))) for _ in "ab")
    near.begin_with(len(begun))
    for choice in (near, plain):
        choice.limit_sum(offered.counts, int(begun.counts.sum()) - 1)
    found_near, found_plain = (
        choice.solve("least_sum", offered.counts, bench.deadline) for choice in (near, plain)
    )

    assert found_near.verdict == found_plain.verdict
    assert found_near.value == found_plain.value
