"""What an answer says of every plan where the best one was not proven."""

import pytest

from solver.proofs.countdown import Countdown
from wrung import solve, verify
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning import engines
from wrung.planning.execution import answered as answered_by
from wrung.planning.finding import Engine, Finding, Plan, found
from wrung.planning.problem import Problem
from wrung.planning.proof import Proof
from wrung.testing import make_blocks, make_targets


def says(plan: Plan, proof: Proof) -> Engine:
    """An engine that hands back just this."""

    def search(problem: Problem, deadline: Deadline) -> Finding:
        del deadline
        return found(problem, plan, proof)

    return search


def test_a_bound_on_plans_that_serve_fewer_is_none_of_plans_that_serve_most(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One stack that takes what all others need: two blocks are few for one, not for both."""
    hogging: Plan = ((0, 1), None)
    claims = says(hogging, Proof(settled=(0,), bound=2))
    monkeypatch.setattr(engines, "ENGINES", (("candidates", claims),))
    shelf, targets = make_blocks("2 2 1"), make_targets("4 5")

    answer = solve(shelf, targets, joint_allowance=0)

    assert verify(shelf, targets, answer, joint_allowance=0) == ()
    assert len(answer.stacks) == 1


def test_a_plan_of_a_search_without_time_has_a_bound() -> None:
    """600 blocks and 60 times 6 mm: no stack but one is a single block, so 60 is a bound."""
    shelf = make_blocks(" ".join(f"{n / 100:.2f}" for n in range(1, 601)))
    targets = make_targets(" ".join(["6"] * 60))
    order, search_by = Order(blocks=shelf, targets=targets, joint_allowance=0), Countdown(320)

    answer = answered_by(order, search_by, Countdown(320, search_by.cancel))

    assert answer.outcome in {"feasible", "optimal"}
    assert answer.total_blocks >= 1 + 59 * 2
    assert answer.bounds.total_blocks is not None
    assert 60 <= answer.bounds.total_blocks <= 1 + 59 * 2
