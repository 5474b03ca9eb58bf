"""How many demands the few fine pieces can serve: an exact small packing of patterns, see `fine`.

Patterns of demands that are needed at one time must not share a piece. If they cannot be packed
side by side, the demands cannot all be served, whatever else is on the shelf.
"""

from collections.abc import Collection, Iterator, Sequence
from functools import reduce
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from wrung.planning.building.fine import Fine, Ints, SeriesStep, fine_of, series_steps
from wrung.planning.problem import Problem
from wrung.subset_sums import as_bits
from wrung.tuning import TUNING, Tuning

Uses: TypeAlias = int
"""Some of the ways to use the fine pieces, as the bits of a number."""


class Move(Struct, frozen=True, kw_only=True):
    """A pattern as what it makes of other uses: its row, and the uses beside which it has room."""

    row: int
    room: Uses


class Place(Struct, frozen=True, kw_only=True):
    """The fine pieces of one step, and per demand the patterns that serve it."""

    fine: Fine
    moves: tuple[tuple[Move, ...], ...]

    def packed(self, demands: Collection[int]) -> int:
        """The most of these demands whose patterns fit side by side."""
        # The uses that serve each number of demands.
        served: list[Uses] = [1]
        for demand in demands:
            more = [self._with(uses, demand) for uses in served]
            served = [a | b for a, b in zip([*served, 0], [0, *more], strict=True)]
            if not served[-1]:
                served.pop()
        return len(served) - 1

    def together(self, demands: Collection[int]) -> bool:
        """Whether the patterns of all these demands fit side by side."""
        return reduce(self._with, demands, 1) != 0

    def _with(self, uses: Uses, demand: int) -> Uses:
        """These uses, each with every pattern of the demand that fits beside it."""
        together = 0
        for move in self.moves[demand]:
            # Rows add up, so that adding a pattern to every use at once is a shift.
            together |= (uses & move.room) << move.row
        return together


def places(problem: Problem, tuning: Tuning = TUNING) -> tuple[Place, ...]:
    """The places whose pieces are few enough to try every use of them."""
    return () if problem.signed else tuple(_places(problem, tuning))


def _places(problem: Problem, tuning: Tuning) -> Iterator[Place]:
    for step in series_steps(problem, tuning):
        fine = fine_of(problem, step, tuning)
        if fine is not None:
            yield Place(fine=fine, moves=_moves(fine, _rows(problem, step, fine)))


def _rows(problem: Problem, step: SeriesStep, fine: Fine) -> list[Ints]:
    # A wear block that is itself fine adds ways to make up a length that are not considered here.
    excused = any(problem.pieces[piece].wear for piece in step.fine)
    return [
        np.zeros(1, dtype=np.int64) if excused and demand.wear else fine.rows(number)
        for number, demand in enumerate(problem.demands)
    ]


def _moves(fine: Fine, rows: Sequence[Ints]) -> tuple[tuple[Move, ...], ...]:
    used: list[int] = np.unique(np.concatenate(rows)).tolist()
    made = {row: Move(row=row, room=_room(fine.uses, row)) for row in used}
    return tuple(tuple(made[row] for row in own.tolist()) for own in rows)


def _room(uses: Ints, row: int) -> Uses:
    room = (uses + uses[row] <= uses[-1]).all(axis=1)
    return as_bits(room)
