"""The free pieces from the view of one stack: what they add up to, and with how few of them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from math import gcd
from typing import Literal, TypeAlias

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.problem import Piece
from wrung.subset_sums import (
    Counts,
    Kind,
    affordable,
    least_counts,
    most_of,
    one_step,
    pick,
)

Pieces: TypeAlias = tuple[int, ...]
"""Ascending indexes of pieces."""

Want: TypeAlias = Literal["fewest", "longest", "shortest"]


class Window(Struct, frozen=True, kw_only=True):
    """Lengths ``low..high``, quanta, with exactly ``wear`` wear pieces and at most ``most`` pieces.

    ``want`` says which stack is wanted among those that have such a length.
    """

    low: int
    high: int
    wear: int
    most: int | None
    want: Want = "fewest"


class Knapsack:
    """What one stack may be made of.

    Args:
        pieces: of the problem.
        free: indexes of those that are free.
        wear: the most wear pieces that are asked for.
        step: whether one piece may be a step.
    """

    def __init__(
        self, pieces: Sequence[Piece], free: Iterable[int], *, wear: int, step: bool
    ) -> None:
        self._alike: defaultdict[tuple[bool, bool, int], list[int]] = defaultdict(list)
        # Of stacks with as few pieces, the order decides which is picked. Plans put together stack
        # by stack serve more if it is that of lengths.
        for index in sorted(free, key=lambda k: (pieces[k].nominal, k)):
            piece = pieces[index]
            if (wear or not piece.wear) and (step or not piece.step):
                self._alike[piece.wear, piece.step, piece.nominal].append(index)
        # Without pieces there is no divisor, and any step will do.
        self._unit = gcd(*(nominal for _, _, nominal in self._alike)) or 1
        self._layers = wear + 1
        self._kinds = (
            *(
                Kind(size=n // self._unit, is_wear=worn, count=len(own[: wear if worn else None]))
                for (worn, stepped, n), own in self._alike.items()
                if not stepped
            ),
            *one_step(n // self._unit for _, stepped, n in self._alike if stepped),
        )

    def fits(self, window: Window) -> bool:
        """Whether some length of the window is a whole number of steps."""
        return bool(self._alike) and -(-window.low // self._unit) <= window.high // self._unit

    def counts(self, high: int, deadline: Deadline) -> Counts | None:
        """The least number of pieces by sum, in steps; None if there are too many sums."""
        whole = sum(kind.count * max(kind.size, *kind.others, 0) for kind in self._kinds)
        limit = max(0, min(high // self._unit, whole))
        quick = affordable(self._kinds, self._layers, limit, deadline)
        return least_counts(self._kinds, self._layers, limit) if quick else None

    def builds(self, counts: Counts, window: Window) -> bool:
        """Whether some stack has a length of the window."""
        return self._best(counts, window) is not None

    def stack(self, counts: Counts, window: Window) -> Pieces | None:
        """The wanted stack of the window."""
        total = self._best(counts, window)
        if total is None:
            return None
        left = {likeness: iter(own) for likeness, own in self._alike.items()}
        chosen = (
            (kind.is_wear, kind.is_step, size * self._unit)
            for kind, size in pick(self._kinds, window.wear, total)
        )
        return tuple(sorted(next(left[likeness]) for likeness in chosen))

    def _best(self, counts: Counts, window: Window) -> int | None:
        """What the pieces of the wanted stack add up to, in steps."""
        first = max(-(-window.low // self._unit), 0)
        within = counts[window.wear, first : max(window.high // self._unit + 1, 0)]
        limit = most_of(counts, window.most)
        if window.want == "fewest":
            place = int(within.argmin()) if len(within) else 0
            return first + place if len(within) and within[place] <= limit else None
        places = np.flatnonzero(within <= limit)
        ends = {"longest": -1, "shortest": 0}
        return first + int(places[ends[window.want]]) if len(places) else None
