"""The step that all blocks are multiples of, and what to say where it is too fine."""

from collections.abc import Iterator, Sequence
from math import gcd
from typing import Final

from msgspec import Struct

from wrung.errors import InputError
from wrung.lengths import to_text

MOST_CELLS: Final = 8_000_000
"""8 MB an array; about ten are held at one time."""


class GivenLength(Struct, frozen=True, kw_only=True):
    """A nominal length, and the pointer to where it was asked."""

    pointer: str
    nominal: int


def common_step(lengths: Sequence[GivenLength], last: int, layers: int) -> int:
    """The coarsest step that all the lengths are multiples of; 0, any will do, if there are none.

    Raises:
        InputError: so fine that the sums up to ``last`` are too many; it points to the one length
            that makes it so, if there is one, else to the range.
    """
    step = gcd(*(each.nominal for each in lengths))
    if affordable(step, last, layers):
        return step
    at = next((each.pointer for each in _culprits(lengths, last, layers)), "/range/stop")
    raise InputError.at(at, _detail(step, last, layers, at))


def affordable(step: int, last: int, layers: int) -> bool:
    """Whether the sums of that step, or of no block at all, can be held."""
    return layers * (last // (step or 1 + last) + 1) <= MOST_CELLS


def _culprits(lengths: Sequence[GivenLength], last: int, layers: int) -> Iterator[GivenLength]:
    """Those without which the others have a step that is coarse enough."""
    # Divisors from either end, so that leaving one out costs one gcd and not all of them.
    before, after = [0], [0]
    for each in lengths:
        before.append(gcd(before[-1], each.nominal))
    for each in reversed(lengths):
        after.append(gcd(after[-1], each.nominal))
    for place, each in enumerate(lengths):
        # With 0 for no block at all, as gcd(0, n) is n.
        if affordable(gcd(before[place], after[len(lengths) - 1 - place]), last, layers):
            yield each


def _detail(step: int, last: int, layers: int, at: str) -> str:
    cells = layers * (last // step + 1)
    remedy = "narrow the range" if at.startswith("/range") else "leave it out"
    return (
        f"the blocks have no common step but {to_text(step, 'um')} µm, which makes {cells} sums "
        f"to look at, more than {MOST_CELLS}; {remedy}"
    )
