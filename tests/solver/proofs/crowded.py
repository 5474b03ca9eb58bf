"""Requests in which many targets contend for few blocks of the finest steps."""

import random
from datetime import UTC, datetime, timedelta
from typing import Final

from hypothesis import strategies as st

from wrung import Block, LengthTarget, Objective, Tolerance, um
from wrung.testing import Request

_STEP: Final = um("1")
_DAY: Final = datetime(2031, 3, 3, 6, tzinfo=UTC)
_HOURS: Final = 8


def crowded_request(seed: int) -> Request:
    """A set, or two, and about as many targets as it has blocks of 1.001 mm to 1.009 mm.

    Every length needs one or two of these, so that mostly some targets are not served, and hardly
    one has the stack that it would have alone.
    """
    rng = random.Random(seed)  # noqa: S311 - no secret
    copies, fine = rng.randint(1, 2), rng.randint(3, 9)
    nominals = [1_000 + n for n in range(1, fine + 1)]
    nominals += [1_000 + 10 * n for n in range(1, rng.randint(19, 49) + 1)]
    nominals += [500 * n for n in range(1, rng.randint(9, 29) + 1)] + [25_000, 50_000]
    certified, timed, wide = rng.random() < _HALF, rng.random() < _SOME, rng.random() < _SOME
    count = copies * fine + rng.randint(-2, 4)
    return Request(
        blocks=tuple(
            _block(f"{copy}:{nominal}", nominal, rng, certified=certified)
            for copy in range(copies)
            for nominal in nominals
        ),
        targets=tuple(_target(f"t{k}", rng, timed=timed, wide=wide) for k in range(count)),
        objective=rng.choice(_OBJECTIVES),
    )


SEEDS: Final = st.integers(0, 1 << 30)

_HALF: Final = 1 / 2
_SOME: Final = 1 / 6
_OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "fewest_blocks", "least_error")
"""Fewer blocks leave more to be settled after them, so that more can go wrong."""


def _block(name: str, nominal: int, rng: random.Random, *, certified: bool) -> Block:
    limit = um("0.12") + nominal // 250
    if certified:
        return Block(
            id=name,
            nominal=nominal * _STEP,
            deviation=rng.randint(-limit, limit),
            expanded_uncertainty=um("0.03"),
        )
    return Block(id=name, nominal=nominal * _STEP, limit_deviation=limit)


def _target(ref: str, rng: random.Random, *, timed: bool, wide: bool) -> LengthTarget:
    # Not a whole 0.01 mm, or the finest blocks would not be needed.
    length = rng.randrange(400, 9_000) * 10 + rng.randrange(1, 10)
    begin = _DAY + timedelta(minutes=15 * rng.randrange(4 * _HOURS)) if timed else None
    return LengthTarget(
        ref=ref,
        length=length * _STEP,
        tolerance=Tolerance(lower=-um("1"), upper=um("1")) if wide else Tolerance(),
        needed_from=begin,
        needed_until=begin + timedelta(minutes=15 * rng.randrange(2, 24)) if begin else None,
    )
