"""How many demands the few pieces that carry the last decimals can serve: an exact small packing.

Pieces that are no multiple of a step are few where the step is one of the fine ones. Every stack
has to take from them what brings its length to a multiple of the step: a *pattern*. Patterns of
demands that are needed at one time must not share a piece. If they cannot be packed side by side,
the demands cannot stand together, whatever else is on the shelf.
"""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import reduce
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


class Pattern(Struct, frozen=True, kw_only=True):
    """One way to use the fine pieces.

    Attributes:
        pieces: how many of each length.
        row: its number among all uses; those of two uses add up to that of both together.
        room: a bit for each use, set where the pattern fits beside it.
    """

    pieces: tuple[int, ...]
    row: int
    room: int


class Place(Struct, frozen=True, kw_only=True):
    """The fine pieces of one step.

    Attributes:
        step: what the other pieces' lengths are multiples of, quanta.
        lengths: of the fine pieces, each once, quanta.
        patterns: per demand the uses that serve it and of which no part does, fewest pieces first.
    """

    step: int
    lengths: tuple[int, ...]
    patterns: tuple[tuple[Pattern, ...], ...]

    def packed(self, demands: Collection[int]) -> int:
        """The most of these demands whose patterns fit side by side."""
        # By the number of demands served, a bit for each use that serves so many.
        served = [1]
        for demand in demands:
            more = [self._with(uses, demand) for uses in served]
            served = [a | b for a, b in zip([*served, 0], [0, *more], strict=True)]
            if not served[-1]:
                served.pop()
        return len(served) - 1

    def together(self, demands: Collection[int]) -> bool:
        """Whether the patterns of all these demands fit side by side."""
        return reduce(self._with, demands, 1) != 0

    def _with(self, uses: int, demand: int) -> int:
        """These uses, each with every pattern of the demand that fits beside it."""
        # Rows add up, so that adding a pattern to every use at once is a shift.
        together = 0
        for pattern in self.patterns[demand]:
            together |= (uses & pattern.room) << pattern.row
        return together


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
    # Counted up like the digits of a number.
    uses = np.indices(shape).reshape(len(shape), -1).T.astype(np.int64)
    lengths = uses @ np.array(list(fine), dtype=np.int64)
    nothing = np.zeros(1, dtype=np.int64)
    rows = [
        nothing if excused and demand.wear else _rows(demand, step, uses, lengths)
        for demand in demands
    ]
    used = np.unique(np.concatenate([nothing, *rows])).tolist()
    patterns = {row: _pattern(uses, row) for row in used}
    return Place(
        step=step,
        lengths=tuple(fine),
        patterns=tuple(tuple(patterns[row] for row in own.tolist()) for own in rows),
    )


def _pattern(uses: _Ints, row: int) -> Pattern:
    room: _Bools = (uses + uses[row] <= uses[-1]).all(axis=1)
    packed = np.packbits(room, bitorder="little").tobytes()
    return Pattern(pieces=tuple(uses[row].tolist()), row=row, room=int.from_bytes(packed, "little"))


def _rows(demand: Demand, step: int, uses: _Ints, lengths: _Ints) -> _Ints:
    """Rows that leave a multiple of the step, less those that hold another such row."""
    rest_low, rest_high = demand.low - lengths, demand.high - lengths
    multiple = rest_high // step * step >= np.maximum(rest_low, 0)
    counts = uses.sum(axis=1)
    fits = np.flatnonzero(multiple & (rest_high >= 0) & (counts <= demand.most))
    # Fewest pieces first, as a use can only hold others of fewer pieces.
    left = fits[np.argsort(counts[fits], kind="stable")]
    kept: list[int] = []
    while len(left):
        row = int(left[0])
        kept.append(row)
        left = left[(uses[left] < uses[row]).any(axis=1)]
    return np.array(kept, dtype=np.int64)
