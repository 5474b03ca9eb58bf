"""The free pieces from the view of one stack: sizes in steps, ends, and how many may be used."""

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import comb, gcd
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.problem import Piece
from wrung.subset_sums import (
    Counts,
    affordable,
    least_counts,
    most_of,
    pick,
)
from wrung.tuning import TUNING, Tuning

Pieces: TypeAlias = tuple[int, ...]
"""Ascending indexes of pieces."""


Want: TypeAlias = Literal["fewest", "longest", "shortest"]


class Window(Struct, frozen=True, kw_only=True):
    """Lengths ``low..high``, quanta, and which stack among those that have one is wanted."""

    low: int
    high: int
    want: Want = "fewest"


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

    def fits(self, window: Window) -> bool:
        """Whether some length of the window is a whole number of steps on some end."""
        return any(True for _ in self._spans(window))

    def counts(self, high: int, deadline: Deadline) -> Counts | None:
        """The least number of gauge pieces by sum, in steps; None if there are too many sums."""
        limit = max(0, min(high // self.step, sum(self.sizes)))
        seconds, room, tuning = deadline.remaining, deadline.memory.left, deadline.tuning
        quick = affordable(self.sizes, limit, seconds=seconds, room=room, tuning=tuning)
        return least_counts(self.sizes, limit) if quick else None

    def builds(self, counts: Counts, window: Window) -> bool:
        """Whether some stack has a length of the window."""
        return self._best(counts, window, self.most) is not None

    def stack(self, counts: Counts, window: Window, most: int | None = None) -> Pieces | None:
        """The wanted stack of the window, of at most so many gauge pieces and steps."""
        best = self._best(counts, window, self.most if most is None else most)
        if best is None:
            return None
        end, steps = best
        gauge = (self.gauge[place] for place in pick(self.sizes, steps))
        return tuple(sorted((*self.ends[end], *gauge)))

    def _best(self, counts: Counts, window: Window, most: int | None) -> tuple[int, int] | None:
        """The end of the wanted stack, and the sum of its gauge pieces in steps."""
        limit = most_of(counts, most)
        found: list[tuple[int, int, int]] = []
        for end, own in self._spans(window):
            within = counts[own]
            places = np.flatnonzero(within <= limit - (end in self.stepped))
            if not len(places):
                continue
            if window.want == "fewest":
                place = int(within.argmin())
                rank = int(within[place]) + (end in self.stepped)
            else:
                place = int(places[-1] if window.want == "longest" else places[0])
                length = end + (own.start + place) * self.step
                rank = -length if window.want == "longest" else length
            found.append((rank, end, own.start + place))
        return min(found, key=lambda each: each[0])[1:] if found else None

    def _spans(self, window: Window) -> Iterator[tuple[int, slice]]:
        """For each end, the sums in steps that bring it into the window."""
        for end in self.ends:
            first = max(-((end - window.low) // self.step), 0)
            last = (window.high - end) // self.step
            if first <= last:
                yield end, slice(first, last + 1)


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
