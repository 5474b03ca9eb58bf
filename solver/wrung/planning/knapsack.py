"""What one stack may be made of: which lengths some pieces add up to, and with how few of them."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property
from math import gcd
from typing import Literal, TypeAlias

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.problem import Demand, Piece
from wrung.planning.solvers import Verdict
from wrung.subset_sums import (
    Counts,
    Kind,
    Reached,
    affordable,
    least_counts,
    most_of,
    nothing,
    one_step,
    pick,
)

Want: TypeAlias = Literal["fewest", "longest", "shortest"]
"""Which stack is wanted among those that serve a demand."""


class Knapsack:
    """Pieces, and their sums in steps that all of them share.

    Attributes:
        unit: such a step, quanta; 1 if there are no pieces.
        limit: the longest sum that is worked out, in steps.
        known: whether sums can be worked out in the time and memory left.

    Args:
        pieces: of the problem.
        free: indexes of those that are free.
        demand: the most wear pieces that are asked for, and whether one piece may be a step.
        high: the longest sum that is asked for, quanta.
        deadline: for working out the sums.
    """

    def __init__(
        self,
        pieces: Sequence[Piece],
        free: Iterable[int],
        demand: Demand,
        high: int,
        deadline: Deadline,
    ) -> None:
        self._alike: defaultdict[tuple[bool, bool, int], list[int]] = defaultdict(list)
        # Of stacks with as few pieces, the order decides which is picked. Plans put together stack
        # by stack serve more if it is that of lengths.
        for index in sorted(free, key=lambda k: (pieces[k].nominal, k)):
            piece = pieces[index]
            if (demand.wear or not piece.wear) and (demand.step or not piece.step):
                self._alike[piece.likeness].append(index)
        # Without pieces there is no divisor, and any step will do.
        self.unit = gcd(*(nominal for _, _, nominal in self._alike)) or 1
        self._layers = demand.wear + 1
        self._kinds = (
            *(
                Kind(
                    size=n // self.unit,
                    is_wear=worn,
                    count=len(own[: demand.wear if worn else None]),
                )
                for (worn, stepped, n), own in self._alike.items()
                if not stepped
            ),
            *one_step(n // self.unit for _, stepped, n in self._alike if stepped),
        )
        whole = sum(kind.count * max(kind.size, *kind.others, 0) for kind in self._kinds)
        self.limit = max(0, min(high // self.unit, whole))
        # Sums of pieces that subtract may be made up out of longer ones.
        self.known = all(kind.size >= 0 for kind in self._kinds) and affordable(
            self._kinds, self._layers, self.limit, deadline
        )

    @cached_property
    def counts(self) -> Counts:
        """The least number of pieces by sum, in steps; if these are too many, that of no pieces."""
        if not self.known:
            return nothing(self._layers, 0)
        return least_counts(self._kinds, self._layers, self.limit)

    def can(self, demand: Demand) -> Verdict:
        """Whether some stack serves the demand, by nominal lengths."""
        # If no whole number of steps lies in the window, that is proof enough without any sums.
        if not self._alike or -(-demand.low // self.unit) > demand.high // self.unit:
            return "impossible"
        if not self.known:
            return "unknown"
        return "impossible" if self._best(demand, "fewest") is None else "found"

    def may_build_beside(self, lengths: Ints, demand: Demand) -> Reached:
        """Beside which of these lengths the rest of the demand may be built.

        How many pieces that takes, and of which role, does not count here.
        """
        first = np.maximum(-((lengths - max(demand.low, 1)) // self.unit), 0)
        last = np.minimum((demand.high - lengths) // self.unit, len(self._sums) - 2)
        ends, starts = np.maximum(last + 1, 0), np.minimum(first, len(self._sums) - 1)
        may: Reached = self._sums[ends] > self._sums[starts]
        return may

    @cached_property
    def _sums(self) -> Ints:
        """How many sums below each, in steps, some pieces have."""
        some = self.counts <= most_of(self.counts, None)
        return np.append(0, some.any(axis=0).cumsum())

    def stack(self, demand: Demand, want: Want = "fewest") -> tuple[int, ...] | None:
        """The wanted stack for the demand; without the sums, only that of no pieces is known."""
        total = self._best(demand, want)
        return None if total is None else self.pick(total, demand.wear)

    def pick(self, total: int, wear: int = 0) -> tuple[int, ...]:
        """The fewest pieces of a sum that some have, in steps, with so many wear pieces."""
        left = {likeness: iter(own) for likeness, own in self._alike.items()}
        chosen = (
            (kind.is_wear, kind.is_step, size * self.unit)
            for kind, size in pick(self._kinds, self.counts, wear, total)
        )
        return tuple(sorted(next(left[likeness]) for likeness in chosen))

    def _best(self, demand: Demand, want: Want) -> int | None:
        """What the pieces of the wanted stack add up to, in steps."""
        first = max(-(-demand.low // self.unit), 0)
        within = self.counts[demand.wear, first : max(demand.high // self.unit + 1, 0)]
        places = np.flatnonzero(within <= most_of(self.counts, demand.most))
        if not len(places):
            return None
        wanted = {"fewest": within.argmin(), "longest": places[-1], "shortest": places[0]}
        return first + int(wanted[want])
