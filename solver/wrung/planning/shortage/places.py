"""How many demands the few pieces that carry the last decimals can serve: an exact small packing.

Pieces that are no multiple of a step are few where the step is one of the fine ones. Every stack
has to take from them what brings its length to a multiple of the step: a *pattern*. Patterns of
demands that are needed at one time must not share a piece. If they cannot be packed side by side,
the demands cannot stand together, whatever else is on the shelf.
"""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from math import prod
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung.planning.problem import Demand, Problem
from wrung.planning.shortage.steps import steps

_Ints: TypeAlias = npt.NDArray[np.int64]
_Bools: TypeAlias = npt.NDArray[np.bool_]

_MOST_USES: Final = 4_096
"""Ways to use the fine pieces, in all; a set's finest series has 512 or 1024."""


class Place(Struct, frozen=True, kw_only=True):
    """The fine pieces of one step, by length.

    Attributes:
        uses: every way to use them, how many of each length a row, counted up like the digits of
            a number: the row of two uses together is the sum of their rows.
        patterns: per demand the rows that serve it and of which no part does.
    """

    uses: _Ints
    patterns: tuple[_Ints, ...]

    def packed(self, demands: Collection[int]) -> int:
        """The most of these demands whose patterns fit side by side."""
        served = np.full(len(self.uses), -1, dtype=np.int64)
        served[0] = 0
        for demand in demands:
            served = self._with(served, self.patterns[demand])
        return int(served.max())

    def _with(self, served: _Ints, patterns: _Ints) -> _Ints:
        # From a copy, so that a demand does not add a second pattern to its first.
        best = served.copy()
        for pattern in patterns:
            used = np.flatnonzero((served >= 0) & self._room(pattern))
            after = used + pattern
            best[after] = np.maximum(best[after], served[used] + 1)
        return best

    def _room(self, pattern: int) -> _Bools:
        """The rows to which the pattern can be added."""
        room: _Bools = (self.uses + self.uses[pattern] <= self.uses[-1]).all(axis=1)
        return room


def places(problem: Problem) -> tuple[Place, ...]:
    """The places whose pieces are few enough to try every use of them."""
    return () if problem.signed else tuple(_places(problem))


def _places(problem: Problem) -> Iterator[Place]:
    for step in steps(problem):
        fine = Counter(problem.pieces[i].nominal for i in step.fine if not problem.pieces[i].wear)
        if fine and prod(count + 1 for count in fine.values()) <= _MOST_USES:
            # A wear block that is fine itself makes up a length in ways that are not looked into.
            excused = len(step.fine) > fine.total()
            yield _place(problem.demands, step.length, fine, excused=excused)


def _place(
    demands: Sequence[Demand], step: int, fine: Mapping[int, int], *, excused: bool
) -> Place:
    shape = [count + 1 for count in fine.values()]
    uses = np.indices(shape).reshape(len(shape), -1).T.astype(np.int64)
    lengths = uses @ np.array(list(fine), dtype=np.int64)
    nothing = np.zeros(1, dtype=np.int64)
    return Place(
        uses=uses,
        patterns=tuple(
            nothing if excused and demand.wear else _patterns(demand, step, uses, lengths)
            for demand in demands
        ),
    )


def _patterns(demand: Demand, step: int, uses: _Ints, lengths: _Ints) -> _Ints:
    """Rows that leave a multiple of the step, less those that hold another such row."""
    rest_low, rest_high = demand.low - lengths, demand.high - lengths
    multiple = rest_high // step * step >= np.maximum(rest_low, 0)
    fits = np.flatnonzero(multiple & (rest_high >= 0) & (uses.sum(axis=1) <= demand.most))
    kept: list[int] = []
    # Fewest pieces first, as a use can only hold others of fewer pieces.
    for row in fits[np.argsort(uses[fits].sum(axis=1), kind="stable")]:
        if not any((uses[one] <= uses[row]).all() for one in kept):
            kept.append(int(row))
    return np.array(kept, dtype=np.int64)
