"""The free pieces from the view of one stack: sizes in steps, ends, and how many may be used."""

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import comb, gcd
from typing import TypeAlias

from msgspec import Struct

from wrung.planning.problem import Piece
from wrung.tuning import TUNING, Tuning

Pieces: TypeAlias = tuple[int, ...]
"""Ascending indexes of pieces."""


class Knapsack(Struct, frozen=True, kw_only=True):
    """What one stack may be made of.

    Attributes:
        gauge: indexes of the gauge pieces, ascending in length.
        sizes: their nominal lengths in steps.
        step: greatest common divisor of those lengths, quanta.
        ends: for each sum of wear blocks, quanta, the indexes of wear pieces that make it up.
        most: the most gauge pieces; None where there is no limit.
    """

    gauge: tuple[int, ...]
    sizes: tuple[int, ...]
    step: int
    ends: dict[int, Pieces]
    most: int | None

    def fits(self, low: int, high: int) -> bool:
        """Whether some length of the window is a whole number of steps on some end."""
        spans = (self.span(low, high, end) for end in self.ends)
        return any(first <= last for first, last in spans)

    def span(self, low: int, high: int, end: int) -> tuple[int, int]:
        """First and last sum, in steps, that gauge pieces add to that end for ``low..high``."""
        return max(-((end - low) // self.step), 0), (high - end) // self.step


def knapsack(
    pieces: Sequence[Piece],
    free: Sequence[int],
    *,
    wear: int,
    room: int | None,
    tuning: Tuning = TUNING,
) -> Knapsack | None:
    """The free pieces for a stack with ``wear`` wear pieces and at most ``room`` gauge pieces.

    None if there are too many ends to list.
    """
    ordered = sorted((pieces[i].nominal, i) for i in free if not pieces[i].wear)
    worn = list(_first(pieces, [i for i in free if pieces[i].wear], wear))
    if comb(len(worn), wear) > tuning.most_wear_ends:
        return None
    nominals, gauge = [nominal for nominal, _ in ordered], tuple(i for _, i in ordered)
    # Without gauge pieces there is no divisor, and any step will do.
    step = gcd(*nominals) or 1
    return Knapsack(
        gauge=gauge,
        sizes=tuple(nominal // step for nominal in nominals),
        step=step,
        # Of ends with the same sum any will do, as only lengths matter here.
        ends={sum(pieces[i].nominal for i in end): end for end in combinations(worn, wear)},
        most=None if room is None or room >= len(gauge) else room,
    )


def _first(pieces: Sequence[Piece], worn: Sequence[int], count: int) -> Iterator[int]:
    """For each nominal length, no more wear pieces than one stack can hold; the rest are alike."""
    seen: dict[int, int] = {}
    for index in worn:
        nominal = pieces[index].nominal
        seen[nominal] = seen.get(nominal, 0) + 1
        if seen[nominal] <= count:
            yield index
