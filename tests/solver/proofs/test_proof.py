"""What is proven of every plan: joined level by level, and narrowed to a plan by what it keeps."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung import Bounds
from wrung.order import Order
from wrung.planning.problem import Problem, build_problem
from wrung.planning.proof import Proof, Values, bounds_of, staged
from wrung.testing import make_blocks, make_targets

LEVELS = st.integers(0, 3)
PLANS = st.lists(st.tuples(LEVELS, LEVELS, LEVELS, LEVELS), min_size=1, max_size=6)


@st.composite
def true_proofs(draw: st.DrawFn, plans: list[Values]) -> Proof:
    """A proof that holds of a problem with just these plans, from a search that saw one of them."""
    values = draw(st.sampled_from(plans))
    bounds: list[int | None] = []
    for place in range(4):
        rest = [plan[place] for plan in plans if plan[:place] == values[:place]]
        bounds.append(draw(st.none() | st.integers(0, min(rest))))
    return staged(values, bounds)


def problem_of_eight() -> Problem:
    order = Order(
        blocks=make_blocks("1"), targets=make_targets(" ".join("1" * 8)), joint_allowance=0
    )
    return build_problem(order)


def holds(proof: Proof, plans: list[Values]) -> bool:
    """Whether no plan is better than it says."""
    bounds = proof.settled if proof.bound is None else (*proof.settled, proof.bound)
    for place, bound in enumerate(bounds):
        values = [plan[place] for plan in plans if plan[:place] == bounds[:place]]
        if any(value < bound for value in values):
            return False
    return True


@given(st.data(), PLANS)
def test_true_proofs_are_true_joined_in_either_order_and_beside_every_plan(
    data: st.DataObject, plans: list[Values]
) -> None:
    one, other = data.draw(true_proofs(plans)), data.draw(true_proofs(plans))
    joined = one.joined(other)

    assert all(holds(proof, plans) for proof in (one, other, joined))
    for plan in plans:
        claimed = joined.kept_by(plan)
        assert claimed == other.joined(one).kept_by(plan)
        assert holds(claimed, plans)
        # What the independent checker asks for: bounds are met one after another, or not given.
        assert plan[: len(claimed.settled)] == claimed.settled
        assert len(claimed.settled) == len(plan) or claimed.bound != plan[len(claimed.settled)]


@pytest.mark.parametrize(
    ("one", "other", "both"),
    [
        (Proof(bound=1), Proof(bound=2), Proof(bound=2)),
        (Proof(settled=(1,), bound=9), Proof(bound=1), Proof(settled=(1,), bound=9)),
        (Proof(settled=(1,), bound=9), Proof(bound=2), Proof(bound=2)),
        (Proof(settled=(1,), bound=9), Proof(settled=(1,), bound=8), Proof(settled=(1,), bound=9)),
        (
            Proof(settled=(1, 9), bound=2),
            Proof(settled=(1,), bound=9),
            Proof(settled=(1, 9), bound=2),
        ),
    ],
)
def test_the_tighter_one_holds_at_the_first_goal_where_they_differ(
    one: Proof, other: Proof, both: Proof
) -> None:
    assert one.joined(other) == other.joined(one) == both


def test_a_plan_that_serves_fewer_is_told_how_many_at_most_and_nothing_else() -> None:
    """The fault that this guards against: a bound for 5 served beside a plan of 6."""
    of_five = staged((3, 20, 7, 30), (2, 20, 7, 30))

    assert of_five == Proof(bound=2)
    assert of_five.kept_by((2, 18, 9, 31)) == Proof(settled=(2,))
    assert bounds_of(of_five, problem_of_eight()) == Bounds(served=6)


@given(st.data(), PLANS)
def test_a_proof_rules_out_no_plan(data: st.DataObject, plans: list[Values]) -> None:
    proof = data.draw(true_proofs(plans))

    assert not any(proof.rules_out(plan[:2]) for plan in plans)
