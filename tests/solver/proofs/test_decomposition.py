"""Stacks begun at once, then completed: what is claimed holds of every plan, tried one by one."""

import random
from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Final

import pytest

from solver.proofs.agreement import (
    AMPLE_MS,
    assert_no_bound_above,
    assert_rules,
    exhaustive,
    report,
)
from solver.proofs.test_three_searches import CASES
from solver.proofs.whole_requests import WholeRequest
from wrung import Block, LengthTarget, Tolerance, mm, um
from wrung.deadline import Deadline
from wrung.planning import engine
from wrung.tuning import Tuning

pytestmark = pytest.mark.long

FINE: Final = ("1.0005", "1.001", "1.002", "1.003", "1.005")
SIZES: Final = (*FINE, "1.01", "1.02", "1.03", "1.5", "2", "3", "5")
WIDTHS: Final = ("0", "0.5", "1", "2", "3")
"""To either side, µm."""
NOON: Final = datetime(2031, 3, 1, 12, tzinfo=UTC)
LISTED: Final = Tuning(few_candidates=0)
"""The stacks of each start are few enough to list."""
PRICED: Final = Tuning(few_candidates=0, listed_each=1, shortest_each=1, best_sums=2)
"""Each choice of starts is completed at prices, from few stacks."""


@pytest.mark.parametrize("tuning", [LISTED, PRICED], ids=["listed", "priced"])
def test_what_is_claimed_holds_of_every_plan(tuning: Tuning) -> None:
    """With windows and times, certified blocks or not, limits of blocks, and priorities."""
    seen: Counter[str] = Counter()
    rng = random.Random(7)  # noqa: S311 - repeatable requests, no secrets
    for _ in range(CASES // 8):
        request = _request(rng)
        problem = request.problem()
        found = engine.search(problem, Deadline(AMPLE_MS, tuning=tuning))
        assert found is not None
        wanted = exhaustive(request, problem.demands)
        assert_no_bound_above(found, wanted)
        if found.plan is not None:
            assert_rules(problem, found.plan)
        seen["proven" if found.objective_proven else "not proven"] += 1
        if found.objective_proven:
            assert found.bounds.largest_worst_case_error == wanted.largest_error
            assert found.bounds.total_worst_case_error == wanted.total_error
    report(seen)
    assert seen["proven"] >= 0.9 * seen.total()


def _request(rng: random.Random) -> WholeRequest:
    certified = rng.random() < 0.8
    blocks = tuple(_block(rng, size, certified=certified) for size in SIZES)
    timed = rng.random() < 0.3
    targets = tuple(_target(rng, number, timed=timed) for number in range(rng.choice((3, 3, 4))))
    return WholeRequest(
        blocks=blocks,
        targets=targets,
        objective="least_error",
        joint_allowance=rng.choice((0, um("0.02"))),
    )


def _block(rng: random.Random, size: str, *, certified: bool) -> Block:
    if not certified:
        return Block(id=size, nominal=mm(size), limit_deviation=um("0.12"))
    return Block(
        id=size,
        nominal=mm(size),
        deviation=rng.randint(-30, 30) * um("0.01"),
        expanded_uncertainty=rng.randint(5, 9) * um("0.01"),
    )


def _target(rng: random.Random, number: int, *, timed: bool) -> LengthTarget:
    length = sum(mm(size) for size in rng.sample(SIZES, rng.choice((2, 3, 3))))
    half = um(rng.choice(WIDTHS))
    start = NOON + timedelta(hours=rng.randint(0, 3))
    return LengthTarget(
        ref=f"t{number}",
        length=length + rng.randint(-2, 2) * um("0.5"),
        tolerance=Tolerance(lower=-half, upper=half),
        max_blocks=rng.choice((None, None, 3)),
        priority=rng.choice((None, None, None, 1)),
        needed_from=start if timed else None,
        needed_until=start + timedelta(hours=2) if timed else None,
    )
