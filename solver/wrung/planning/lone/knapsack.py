"""The free pieces from the view of one stack: sizes in steps, ends, and how many may be used."""

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import comb, gcd
from typing import TypeAlias

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.problem import Piece
from wrung.subset_sums import (
    Counts,
    Reached,
    affordable,
    least_counts,
    most_of,
    pick,
    reached,
)
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

    def counts(self, high: int, deadline: Deadline) -> Counts | None:
        """The least number of gauge pieces by sum, in steps; None if there are too many sums."""
        limit = self._limit(high, deadline)
        return None if limit is None else least_counts(self.sizes, limit)

    def reached(self, high: int, deadline: Deadline) -> Reached | None:
        """Which sums no more gauge pieces have than there may be; None likewise."""
        limit = self._limit(high, deadline)
        return None if limit is None else reached(self.sizes, self.most, limit)

    def _limit(self, high: int, deadline: Deadline) -> int | None:
        """The longest sum that can matter, in steps, if so many can be worked out."""
        limit = max(0, min(high // self.step, sum(self.sizes)))
        seconds, room, tuning = deadline.remaining, deadline.memory.left, deadline.tuning
        quick = affordable(self.sizes, limit, seconds=seconds, room=room, tuning=tuning)
        return limit if quick else None

    def builds(self, there: Reached, low: int, high: int) -> bool:
        """Whether some stack has a length of the window."""
        return any(there[own].any() for _, own in self._spans(low, high))

    def fewest(self, counts: Counts, low: int, high: int, most: int | None = None) -> Pieces | None:
        """A stack of the window of as few gauge pieces as can be, and at most so many."""
        limit = most_of(counts, self.most if most is None else most)
        best: Pieces | None = None
        for end, own in self._spans(low, high):
            within = counts[own]
            if len(within) and (fewest := int(within.min())) <= limit:
                # Fewer than on the ends before.
                best, limit = (end, own.start + int(within.argmin())), fewest - 1
        return None if best is None else self._pieces(*best)

    def extreme(self, there: Reached, low: int, high: int, *, longest: bool) -> Pieces | None:
        """The longest stack of the window, or the shortest."""
        best = max if longest else min
        found: list[tuple[int, int, int]] = []
        for end, own in self._spans(low, high):
            sums = there[own].nonzero()[0]
            if len(sums):
                steps = own.start + int(best(sums[0], sums[-1]))
                found.append((end + steps * self.step, end, steps))
        return self._pieces(*best(found)[1:]) if found else None

    def _spans(self, low: int, high: int) -> Iterator[tuple[int, slice]]:
        """For each end, the sums that bring it into the window."""
        for end in self.ends:
            first, last = self.span(low, high, end)
            if first <= last:
                yield end, slice(first, last + 1)

    def _pieces(self, end: int, steps: int) -> Pieces:
        gauge = (self.gauge[place] for place in pick(self.sizes, steps))
        return tuple(sorted((*self.ends[end], *gauge)))


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
