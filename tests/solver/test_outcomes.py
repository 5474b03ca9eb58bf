"""Every outcome of the contract, reached through the public `solve`, and what may be said of it."""

from collections.abc import Callable
from typing import Any

import pytest

from solver import oracle_engine
from solver.standing_still import AMPLE_MS, Clock
from wrung import (
    Answer,
    Bounds,
    Cancel,
    Fault,
    InputError,
    LengthTarget,
    Tolerance,
    inch,
    mm,
    solve,
    um,
    verify,
)
from wrung.answers import Objective
from wrung.deadline import Deadline
from wrung.planning import engines
from wrung.planning.finding import Engine, Finding, Plan, found
from wrung.planning.problem import Problem
from wrung.planning.proof import Proof
from wrung.testing import make_blocks, make_targets

SHELF = make_blocks("1.001 1.002 1 2 3 5")
PLENTY_MS = 60_000

Ask = Callable[[Engine], None]


@pytest.fixture(name="only_engine")
def _only_engine(monkeypatch: pytest.MonkeyPatch) -> Ask:
    """Let one engine alone be asked."""

    def ask(engine: Engine) -> None:
        monkeypatch.setattr(engines, "ENGINES", (("direct", engine),))

    return ask


def hands_back(plan: Plan | None, most: int, blocks: int | None = None) -> Engine:
    """An engine whose time ended with this plan, unproven."""

    def search(problem: Problem, deadline: Deadline) -> Finding:
        del deadline
        missing = len(problem.demands) - most
        proof = Proof(bound=missing) if blocks is None else Proof(settled=(missing,), bound=blocks)
        return found(problem, plan, proof)

    return search


def refs(answer: Answer) -> list[str]:
    """The targets served."""
    return [stack.target for stack in answer.stacks]


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_optimal(objective: Objective) -> None:
    """Every target is served, the plan is proven best, and the bounds are its totals."""
    targets = make_targets("4.001 7.002")
    answer = solve(
        SHELF,
        targets,
        objective=objective,
        joint_allowance=0,
        time_limit_ms=PLENTY_MS,
    )

    assert (answer.outcome, answer.proven, answer.objective_proven) == ("optimal", True, True)
    assert answer.objective == objective
    assert refs(answer) == ["t0", "t1"]
    assert answer.total_blocks == 5
    assert answer.bounds == Bounds(
        served=2,
        total_blocks=5,
        largest_worst_case_error=um("0.6"),
        total_worst_case_error=um("1.0"),
    )
    assert (answer.unmet, answer.shortage) == ((), None)


def test_feasible(only_engine: Ask) -> None:
    """Every target is served, but whether it could be done better was not settled in time."""
    only_engine(hands_back(((0, 2, 3),), 1, 2))
    answer = solve(SHELF, make_targets("4.001"))

    assert (answer.outcome, answer.proven, answer.objective_proven) == ("feasible", False, False)
    assert (answer.total_blocks, answer.bounds.total_blocks) == (3, 2)
    assert verify(SHELF, make_targets("4.001"), answer) == ()


def test_partial() -> None:
    """One of two that need the same block is served, and that is proven the most."""
    targets = make_targets("1.001 4.001")
    answer = solve(SHELF, targets, time_limit_ms=PLENTY_MS)

    assert (answer.outcome, answer.proven, answer.objective_proven) == ("partial", True, True)
    assert refs(answer) == ["t0"]
    assert [(unmet.target, unmet.reason) for unmet in answer.unmet] == [("t1", "blocks_in_use")]
    assert answer.shortage is not None
    assert tuple(map(str, answer.shortage.conflict)) == ("t0", "t1")
    assert answer.bounds.served == 1


def test_partial_without_proof(only_engine: Ask) -> None:
    """Where it is not settled whether more could be served, the bound says how many at most."""
    shelf = make_blocks("3 4 5 6 7")
    targets = make_targets("7 9 10")
    # One stack that takes the pieces of all others, though a plan with more stacks exists.
    only_engine(hands_back(((0, 1), None, None), 3))
    answer = solve(shelf, targets)

    assert answer.outcome == "partial"
    assert answer.proven == (len(answer.stacks) == answer.bounds.served)
    assert not answer.objective_proven
    assert verify(shelf, targets, answer) == ()


def test_infeasible() -> None:
    """No target can be built, and the nearest lengths say what can."""
    targets = make_targets("0.7")
    answer = solve(SHELF, targets)

    assert (answer.outcome, answer.proven, answer.objective_proven) == ("infeasible", True, True)
    assert answer.stacks == ()
    assert answer.unmet[0].reason == "cannot_be_built"
    assert answer.bounds.served == answer.total_blocks == answer.total_worst_case_error == 0


def test_unknown(only_engine: Ask) -> None:
    """The time was over before there was anything."""
    only_engine(oracle_engine.search)
    answer = solve(SHELF, make_targets("4.001 7.002"), time_limit_ms=1e-6)

    assert (answer.outcome, answer.proven, answer.objective_proven) == ("unknown", False, False)
    assert answer.stacks == ()
    assert {unmet.reason for unmet in answer.unmet} == {"not_decided"}
    assert answer.shortage is None
    assert answer.bounds == Bounds(served=2)


def test_a_machine_that_stood_still_does_not_make_a_simple_stack_unknown(
    only_engine: Ask, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = Clock(monkeypatch)

    def stands_still(problem: Problem, deadline: Deadline) -> Finding:
        clock.stand_still(deadline)
        return found(problem, None, Proof(bound=0))

    only_engine(stands_still)
    answer = solve(SHELF, make_targets("4.001"), time_limit_ms=AMPLE_MS)

    assert len(answer.stacks) == 1
    assert not answer.proven


def test_a_search_that_is_cancelled_before_it_starts_raises_nothing() -> None:
    """Whatever the engines make of no time at all is an answer that holds."""
    cancel = Cancel()
    cancel.cancel()
    targets = make_targets("4.001 7.002")
    answer = solve(SHELF, targets, cancel=cancel)

    assert verify(SHELF, targets, answer) == ()


@pytest.mark.parametrize("time_limit_ms", [0.001, 0.1, 1])
@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_no_time_limit_ends_in_an_exception(time_limit_ms: float, objective: Objective) -> None:
    """However short the time, there is an answer and it holds."""
    shelf = make_blocks(" ".join(f"1.{k:03}" for k in range(1, 60)) + " 2 3 4 5 10 20")
    targets = make_targets("7.123 9.234 11.345 30.99 0.1")
    answer = solve(
        shelf, targets, objective=objective, joint_allowance=0, time_limit_ms=time_limit_ms
    )

    assert verify(shelf, targets, answer, objective=objective, joint_allowance=0) == ()


def test_no_targets_are_served_at_once() -> None:
    """Nothing to build is optimal, and no engine is asked."""
    answer = solve(SHELF, [])

    assert (answer.outcome, answer.stacks, answer.diagnostics.engine) == ("optimal", (), None)


def test_what_cannot_be_built_alone_counts_in_no_bound(only_engine: Ask) -> None:
    """Where the search proves nothing, simple proofs say how many are served at most."""
    only_engine(hands_back(None, 4))
    answer = solve(SHELF, make_targets("0.7 4.001 0.8 7.002"))

    assert (answer.outcome, refs(answer), answer.proven) == ("partial", ["t1", "t3"], True)


def test_a_plan_that_leaves_room_is_filled_up(only_engine: Ask) -> None:
    """What an engine without time left out is built from the pieces that are free."""
    only_engine(hands_back(None, 2))
    answer = solve(SHELF, make_targets("4.001 7.002"))

    assert (answer.outcome, refs(answer)) == ("feasible", ["t0", "t1"])


def test_the_next_engine_is_asked_where_one_does_not_apply(monkeypatch: pytest.MonkeyPatch) -> None:
    """None means that the problem is not for this engine."""
    monkeypatch.setattr(
        engines,
        "ENGINES",
        (("candidates", lambda *_: None), ("direct", oracle_engine.search)),
    )
    answer = solve(SHELF, make_targets("4.001"))

    assert (answer.outcome, answer.diagnostics.engine) == ("optimal", "direct")


def test_tolerance_and_mixed_units_meet_in_one_stack() -> None:
    """0.2 in and 1 mm make 6.08 mm, within 0.1 mm of the length asked for."""
    shelf = (*make_blocks("1"), *(b for b in make_blocks("5 0.2", unit="in") if b.id == "b1"))
    target = LengthTarget(
        ref="t", length=mm("6"), tolerance=Tolerance(lower=mm("-0.1"), upper=mm("0.1"))
    )
    answer = solve(shelf, [target])

    assert answer.outcome == "optimal"
    assert answer.stacks[0].nominal == inch("0.2") + mm("1")


@pytest.mark.parametrize(
    ("arguments", "pointer"),
    [
        ({"time_limit_ms": 0}, "/time_limit_ms"),
        ({"time_limit_ms": -1}, "/time_limit_ms"),
        ({"time_limit_ms": float("nan")}, "/time_limit_ms"),
        ({"objective": "cheapest"}, "/objective"),
        ({"joint_allowance": -1}, "/joint_allowance"),
        ({"exclude": ["nobody"]}, "/exclude/0"),
        ({"only": ["b0", "nobody"]}, "/only/1"),
    ],
)
def test_a_fault_in_the_options_is_pointed_at(arguments: dict[str, Any], pointer: str) -> None:
    """Bad options are the caller's fault, and the only exception there is."""
    with pytest.raises(InputError) as caught:
        solve(SHELF, make_targets("4"), **arguments)

    faults: tuple[Fault, ...] = caught.value.faults
    assert [fault.pointer for fault in faults] == [pointer]
