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


class Sums(Struct, frozen=True, kw_only=True):
    """Which sums gauge pieces have, in steps: by themselves, and where a step takes up room."""

    alone: Reached
    beside_step: Reached


class Knapsack(Struct, frozen=True, kw_only=True):
    """What one stack may be made of.

    Attributes:
        gauge: indexes of the gauge pieces, ascending in length.
        sizes: their nominal lengths in steps.
        step: greatest common divisor of those lengths, quanta.
        ends: for each sum of wear blocks and a step, quanta, the indexes of pieces that make it up.
        stepped: the sums that take a step.
        most: the most gauge pieces and steps; None where there is no limit.
    """

    gauge: tuple[int, ...]
    sizes: tuple[int, ...]
    step: int
    ends: dict[int, Pieces]
    stepped: frozenset[int]
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

    def reached(self, high: int, deadline: Deadline) -> Sums | None:
        """Which sums no more gauge pieces have than there may be; None likewise."""
        limit = self._limit(high, deadline)
        if limit is None:
            return None
        every = reached(self.sizes, self.most, limit)
        if self.most is None or not self.stepped:
            return Sums(alone=every, beside_step=every)
        return Sums(alone=every, beside_step=reached(self.sizes, self.most - 1, limit))

    def _limit(self, high: int, deadline: Deadline) -> int | None:
        """The longest sum that can matter, in steps, if so many can be worked out."""
        limit = max(0, min(high // self.step, sum(self.sizes)))
        seconds, room, tuning = deadline.remaining, deadline.memory.left, deadline.tuning
        quick = affordable(self.sizes, limit, seconds=seconds, room=room, tuning=tuning)
        return limit if quick else None

    def builds(self, there: Sums, low: int, high: int) -> bool:
        """Whether some stack has a length of the window."""
        return any(self._beside(there, end)[own].any() for end, own in self._spans(low, high))

    def _beside(self, there: Sums, end: int) -> Reached:
        return there.beside_step if end in self.stepped else there.alone

    def fewest(self, counts: Counts, low: int, high: int, most: int | None = None) -> Pieces | None:
        """A stack of the window of as few gauge pieces and steps as can be, and at most so many."""
        limit = most_of(counts, self.most if most is None else most)
        best: Pieces | None = None
        for end, own in self._spans(low, high):
            within = counts[own]
            if len(within) and (fewest := int(within.min()) + (end in self.stepped)) <= limit:
                # Fewer than on the ends before.
                best, limit = (end, own.start + int(within.argmin())), fewest - 1
        return None if best is None else self._pieces(*best)

    def extreme(self, there: Sums, low: int, high: int, *, longest: bool) -> Pieces | None:
        """The longest stack of the window, or the shortest."""
        best = max if longest else min
        found: list[tuple[int, int, int]] = []
        for end, own in self._spans(low, high):
            sums = self._beside(there, end)[own].nonzero()[0]
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


def knapsack(  # noqa: PLR0913 -- the parts of one question
    pieces: Sequence[Piece],
    free: Sequence[int],
    *,
    wear: int,
    step: bool,
    room: int | None,
    tuning: Tuning = TUNING,
) -> Knapsack | None:
    """The free pieces for a stack with ``wear`` wear pieces and at most ``room`` others.

    One of these may be a ``step``. None if there are too many ends to list.
    """
    ordered = sorted((p.nominal, i) for i in free if not ((p := pieces[i]).wear or p.step))
    worn = list(_first(pieces, [i for i in free if pieces[i].wear], wear))
    steps = [i for i in free if pieces[i].step] if step and room != 0 else []
    if comb(len(worn), wear) * (len(steps) + 1) > tuning.most_wear_ends:
        return None
    # Of ends with the same sum any will do, as only lengths matter here; best one without a step.
    ends = {sum(pieces[i].nominal for i in end): end for end in combinations(worn, wear)}
    stepped = {length + pieces[i].nominal: (*end, i) for length, end in ends.items() for i in steps}
    nominals, gauge = [nominal for nominal, _ in ordered], tuple(i for _, i in ordered)
    # Without gauge pieces there is no divisor, and any step will do.
    common = gcd(*nominals) or 1
    return Knapsack(
        gauge=gauge,
        sizes=tuple(nominal // common for nominal in nominals),
        step=common,
        ends={**stepped, **ends},
        stepped=frozenset(stepped.keys() - ends.keys()),
        most=None if room is None or room >= len(gauge) + bool(steps) else room,
    )


def _first(pieces: Sequence[Piece], worn: Sequence[int], count: int) -> Iterator[int]:
    """For each nominal length, no more wear pieces than one stack can hold; the rest are alike."""
    seen: dict[int, int] = {}
    for index in worn:
        nominal = pieces[index].nominal
        seen[nominal] = seen.get(nominal, 0) + 1
        if seen[nominal] <= count:
            yield index
