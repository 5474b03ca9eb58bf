"""The figures of the example that solver/ENGINE.md explains the engine with."""

from fractions import Fraction

import numpy as np
import pytest

from solver.oracle import candidates
from wrung import mm, solve
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.candidates.grids import lay_out
from wrung.planning.candidates.stock import by_nominal
from wrung.planning.candidates.tables import build_table
from wrung.planning.problem import build_problem
from wrung.testing import make_blocks, make_targets

SHELF = make_blocks("1.1 1.2 1.3 1 2 4")
FEWEST = {0: 0, 1: 1, 2: 1, 3: 2, 4: 1, 5: 2, 6: 2, 7: 3}
"""Blocks of whole millimetres for a rest of so many, as pictured."""


def stacks(length: str) -> list[tuple[int, bool]]:
    """Blocks of each way to build the length, and whether 1.3 is one of them."""
    wanted = make_targets(length)[0].requirements()[0]
    return sorted((len(s.blocks), 2 in s.blocks) for s in candidates(SHELF, wanted, 0))


def test_each_target_has_two_candidates() -> None:
    assert stacks("3.3") == [(2, True), (3, False)]
    assert stacks("5.3") == [(2, True), (4, False)]
    assert len(stacks("2.3")) == 2


def test_the_table_of_whole_millimetres() -> None:
    whole = make_blocks("1 2 4")
    problem = build_problem(
        Order(blocks=whole, targets=make_targets("7"), objective="fewest_blocks", joint_allowance=0)
    )
    deadline = Deadline(60_000)
    layout = lay_out(by_nominal(problem), mm("7"), deadline)
    table = build_table(layout, np.ones((1, 3), np.int64), (7,), deadline)

    assert {
        r: int(table.least(np.array([[r]]), np.zeros(1, np.int64))[0]) for r in FEWEST
    } == FEWEST


@pytest.mark.parametrize(("price", "bound"), [("0", "4"), ("1/2", "9/2"), ("1", "5")])
def test_the_bound_at_each_price(price: str, bound: str) -> None:
    pays = Fraction(price)
    least = [
        min(count + (pays if with_it else 0) for count, with_it in stacks(length))
        for length in ("3.3", "5.3")
    ]

    assert sum(least) - pays == Fraction(bound)


def test_the_best_plan_has_five_blocks() -> None:
    answer = solve(SHELF, make_targets("3.3 5.3"), joint_allowance=0)

    assert (answer.outcome, answer.total_blocks) == ("optimal", 5)


def test_of_three_targets_two_are_served() -> None:
    answer = solve(SHELF, make_targets("2.3 3.3 5.3"), joint_allowance=0)

    assert (answer.outcome, answer.proven, len(answer.stacks)) == ("partial", True, 2)
