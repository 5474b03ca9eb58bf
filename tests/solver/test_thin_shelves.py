"""Shelves with one block of each of many sizes: most blocks are contended for, not a few."""

import random
from datetime import UTC, datetime, timedelta
from typing import Final

import pytest

from wrung import Block, LengthTarget, mm, solve, um, verify

SIZES: Final = (
    *("1.0005", "1.001", "1.003", "1.004", "1.007", "1.01", "1.05", "1.1", "1.16", "1.23", "1.31"),
    *("1.4", "1.5", "2.5", "3", "4.5", "6", "8.5", "13", "19.5", "25", "50"),
)
MORNING: Final = datetime(2031, 3, 3, 6, tzinfo=UTC)


@pytest.mark.parametrize("priorities", [1, 3])
def test_the_most_that_can_be_served_and_all_that_follows_is_proven(priorities: int) -> None:
    """Patterns of the finest pieces leave room for stacks that no plan has."""
    rng = random.Random(priorities)  # noqa: S311 - repeatable requests, no secrets
    blocks = tuple(
        Block(id=size, nominal=mm(size), limit_deviation=um("0.1") * rng.choice((1, 2, 4)))
        for size in SIZES
    )
    targets = tuple(_target(f"t{k}", blocks, rng, priorities) for k in range(16))

    answer = solve(blocks, targets, time_limit_ms=60_000)

    assert (answer.outcome, answer.proven, answer.objective_proven) == ("partial", True, True)
    assert answer.bounds.served == len(answer.stacks)
    assert not verify(blocks, targets, answer)


def _target(
    ref: str, blocks: tuple[Block, ...], rng: random.Random, priorities: int
) -> LengthTarget:
    """One that can be built by itself, needed for an hour or more of the same morning."""
    start = MORNING + timedelta(minutes=15 * rng.randrange(24))
    return LengthTarget(
        ref=ref,
        length=sum(block.nominal for block in rng.sample(blocks, rng.randint(2, 5))),
        needed_from=start,
        needed_until=start + timedelta(hours=rng.choice((1, 2, 4))),
        priority=rng.randint(1, priorities),
    )
