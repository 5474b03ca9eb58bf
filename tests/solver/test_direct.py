"""The direct engine, held to the exhaustive search, and at the ends of its time."""

import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver import oracle_engine
from solver.problems import problem_of
from wrung import Block, Bounds, Cancel, GaugeSet, LengthTarget, Objective, WearBlocks, inch, mm
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning import direct
from wrung.planning.finding import Finding, Plan, found, totals
from wrung.planning.problem import Problem, build_problem
from wrung.planning.proof import Proof
from wrung.testing import Request, make_blocks, make_targets, requests

AMPLE_MS = 60_000
OBJECTIVES: tuple[Objective, ...] = ("fewest_blocks", "least_error")


def small(
    nominals: str,
    *targets: LengthTarget,
    objective: Objective = "fewest_blocks",
    more: tuple[Block, ...] = (),
) -> Problem:
    blocks = (*make_blocks(nominals), *more)
    return build_problem(
        Order(blocks=blocks, targets=targets, objective=objective, joint_allowance=0)
    )


def find(problem: Problem, limit_ms: float = AMPLE_MS) -> Finding:
    return direct.search(problem, Deadline(limit_ms))


def keeps_the_rules(problem: Problem, plan: Plan) -> bool:
    """Whether every stack serves its demand and no piece stands twice at one time."""
    for demand, stack in zip(problem.demands, plan, strict=True):
        pieces = [problem.pieces[piece] for piece in stack or ()]
        length = sum(piece.nominal for piece in pieces)
        worn = sum(piece.wear for piece in pieces)
        fits = demand.low <= length <= demand.high and worn == demand.wear
        if stack is not None and not (fits and 1 <= len(stack) <= demand.most):
            return False
    crowded = [[piece for k in clique for piece in plan[k] or ()] for clique in problem.cliques]
    return all(len(pieces) == len(set(pieces)) for pieces in crowded)


@given(requests(max_blocks=9))
def test_the_totals_are_those_of_an_exhaustive_search(request: Request) -> None:
    """Number served and all values of the objective; everything proven, with the rules kept."""
    problem = problem_of(request)
    found = find(problem)
    wanted = oracle_engine.search(problem, Deadline(AMPLE_MS))

    assert found.plan is not None
    assert wanted.plan is not None
    assert keeps_the_rules(problem, found.plan)
    assert totals(problem, found.plan) == totals(problem, wanted.plan)
    assert (found.served_proven, found.objective_proven) == (True, True)
    assert found.bounds == wanted.bounds


@given(requests(), st.sampled_from((0.0, 0.5, 1.0, 3.0, 10.0)))
def test_whenever_the_time_ends_what_is_said_to_be_proven_is_true(
    request: Request, limit_ms: float
) -> None:
    """However little was found, the bounds hold for the true optimum."""
    problem = problem_of(request)
    found = find(problem, limit_ms)
    best = oracle_engine.search(problem, Deadline(AMPLE_MS))
    assert best.plan is not None
    optimum, reached = best.bounds, totals(problem, found.plan or (None,) * len(problem.demands))

    assert found.plan is None or keeps_the_rules(problem, found.plan)
    assert optimum.served <= found.bounds.served
    assert reached.served <= totals(problem, best.plan).served
    assert not found.served_proven or reached.served == totals(problem, best.plan).served
    assert not found.objective_proven or reached == totals(problem, best.plan)
    assert (found.bounds.total_blocks or 0) <= (optimum.total_blocks or 0)
    assert (found.bounds.largest_worst_case_error or 0) <= (optimum.largest_worst_case_error or 0)
    assert (found.bounds.total_worst_case_error or 0) <= (optimum.total_worst_case_error or 0)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_without_targets_the_empty_plan_is_best(objective: Objective) -> None:
    problem = small("1 2", objective=objective)

    assert find(problem) == _nothing_needed(problem, ())


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_without_blocks_nothing_is_served_and_that_is_proven(objective: Objective) -> None:
    problem = small("", *make_targets("1 2"), objective=objective)

    assert find(problem) == _nothing_needed(problem, (None, None))


@pytest.mark.parametrize("wear", ["one", "both"])
def test_wear_blocks_that_are_not_there_leave_a_target_unserved(wear: WearBlocks) -> None:
    problem = small("1 2 5", LengthTarget(ref="t", length=mm("8"), wear_blocks=wear))

    assert find(problem) == _nothing_needed(problem, (None,))


def test_a_stack_may_be_of_wear_blocks_alone() -> None:
    worn = make_blocks("2 2", role="wear")
    target = LengthTarget(ref="t", length=mm("4"), wear_blocks="both")
    found = find(small("1 3", target, more=worn))

    assert found.plan == ((2, 3),)


def test_what_cannot_stand_together_is_served_in_part() -> None:
    """One block of 1.001 mm serves one of two targets that need it at the same time."""
    found = find(small("1.001 1 2 5", *make_targets("2.001 3.001 7")))

    assert found.plan is not None
    assert found.plan.count(None) == 1
    assert (found.served_proven, found.objective_proven) == (True, True)
    assert found.bounds.served == 2


def test_a_cancelled_search_says_nothing_but_what_it_knows() -> None:
    cancel = Cancel()
    cancel.cancel()
    found = direct.search(small("1 2", *make_targets("3")), Deadline(AMPLE_MS, cancel))

    assert (found.plan, found.served_proven, found.objective_proven) == (None, False, False)
    assert found.bounds == Bounds(served=1)


def test_a_search_is_ended_from_another_thread() -> None:
    """It comes back long before its limit of an hour, with the rules kept."""
    problem = crowded()
    cancel = Cancel()
    # By CPU time: a machine that stands still has found nothing meanwhile.
    end = time.process_time() + 0.3

    def cancel_later() -> None:
        while time.process_time() < end:
            time.sleep(0.01)
        cancel.cancel()

    with ThreadPoolExecutor(1) as threads:
        cancelling = threads.submit(cancel_later)
        found = direct.search(problem, Deadline(3_600_000, cancel))
        cancelling.result()

    assert found.plan is not None
    assert keeps_the_rules(problem, found.plan)
    assert not found.objective_proven


def test_the_same_problem_gets_the_same_finding() -> None:
    problem = two_stacks("fewest_blocks")

    assert find(problem) == find(problem)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_whole_set_is_searched_to_the_end(objective: Objective) -> None:
    """Two stacks from the inch 81-piece set: all bounds meet the totals."""
    problem = two_stacks(objective)
    found = find(problem)

    assert found.plan is not None
    assert found.objective_proven
    reached = totals(problem, found.plan)
    assert found.bounds == Bounds(
        served=2,
        total_blocks=reached.blocks,
        largest_worst_case_error=reached.largest_error,
        total_worst_case_error=reached.total_error,
    )


def two_stacks(objective: Objective) -> Problem:
    shelf = GaugeSet(id="bench", composition="inch-81", grade="AS-1").blocks()
    targets = make_targets("1.3456 0.4213", unit="in")
    return build_problem(
        Order(blocks=shelf, targets=targets, objective=objective, joint_allowance=0)
    )


def crowded() -> Problem:
    """Thirty targets that all need one of the few blocks of the fourth decimal: hard to prove."""
    shelf = [
        block
        for name in ("a", "b")
        for block in GaugeSet(id=name, composition="inch-81", grade="AS-1").blocks()
    ]
    targets = [
        LengthTarget(ref=f"t{k}", length=inch("1.2345") + k * inch("0.0503")) for k in range(30)
    ]
    return build_problem(
        Order(blocks=shelf, targets=targets, objective="least_error", joint_allowance=0)
    )


def _nothing_needed(problem: Problem, plan: Plan) -> Finding:
    missing = len(problem.demands)
    return found(problem, plan, Proof(settled=(missing, 0, 0, 0)))
