"""The few pieces that carry the last decimals, and how they bring lengths to whole steps.

For a fine step, only a few pieces are not multiples of it. From these every stack has to take what
brings the rest of its length to a multiple of the step: a *pattern*. Patterns of demands that are
needed at one time must not share a piece. If they cannot be packed side by side, the demands cannot
all be served, whatever else is on the shelf.
"""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from functools import reduce
from itertools import pairwise
from math import prod
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung.planning.problem import Demand, Problem
from wrung.subset_sums import as_bits
from wrung.tuning import TUNING, Tuning

Ints: TypeAlias = npt.NDArray[np.int64]


class SeriesStep(Struct, frozen=True, kw_only=True):
    """A step, quanta, and the indexes of the pieces whose lengths are no multiple of it."""

    length: int
    fine: tuple[int, ...]


def series_steps(problem: Problem, tuning: Tuning = TUNING) -> tuple[SeriesStep, ...]:
    """The steps with the fewest finer pieces, without those with all or no pieces finer.

    A step is the distance between two neighbouring lengths: in a set, the steps of its series. Of
    several sets, such as an inch and a metric one, it may also be what two steps have in common.
    """
    ordered = sorted({piece.nominal for piece in problem.pieces})
    apart = sorted({longer - shorter for shorter, longer in pairwise(ordered)})
    steps = _fewest_finer(problem, np.array(apart, dtype=np.int64), tuning)
    lengths = np.array([step.length for step in steps], dtype=np.int64)
    common = np.setdiff1d(np.gcd.outer(lengths, lengths), lengths)
    if not len(common):
        return steps
    return _fewest_finer(problem, np.concatenate([lengths, common]), tuning)


def _fewest_finer(problem: Problem, lengths: Ints, tuning: Tuning) -> tuple[SeriesStep, ...]:
    nominals = np.array([piece.nominal for piece in problem.pieces], dtype=np.int64)
    fine = np.remainder(nominals[None, :], lengths[:, None]) != 0
    counts = fine.sum(axis=1)
    useful = np.flatnonzero((counts > 0) & (counts < len(nominals)))
    fewest = useful[np.argsort(counts[useful], kind="stable")][: tuning.most_steps]
    return tuple(
        SeriesStep(length=int(lengths[row]), fine=tuple(np.flatnonzero(fine[row]).tolist()))
        for row in fewest
    )


class Fine:
    """The fine gauge pieces of one step, and the ways to use them, made on demand.

    Attributes:
        step: what the other pieces' lengths are multiples of, quanta.
        lengths: of the fine pieces, each once, quanta.
        uses: a row for every way to use them, how many of each length, counted up like the digits
            of a number: the numbers of two rows add up to that of both together.
        sums: the lengths of the uses, quanta.
    """

    def __init__(self, demands: tuple[Demand, ...], step: int, counts: Mapping[int, int]) -> None:
        shape = [count + 1 for count in counts.values()]
        self.step = step
        self.lengths = tuple(counts)
        self.uses: Ints = np.indices(shape).reshape(len(shape), -1).T.astype(np.int64)
        self.sums: Ints = self.uses @ np.array(self.lengths, dtype=np.int64)
        self._counts = self.uses.sum(axis=1)
        self._demands = demands
        self._rows: dict[int, Ints] = {}

    def rows(self, demand: int) -> Ints:
        """The uses that serve the demand and of which no part does, fewest pieces first."""
        known = self._rows.get(demand)
        if known is None:
            known = self._rows[demand] = self._found(self._demands[demand])
        return known

    def _found(self, demand: Demand) -> Ints:
        """Rows that leave a multiple of the step, without those that contain another such row."""
        rest_low, rest_high = demand.low - self.sums, demand.high - self.sums
        multiple = rest_high // self.step * self.step >= np.maximum(rest_low, 0)
        fits = np.flatnonzero(multiple & (rest_high >= 0) & (self._counts <= demand.most))
        # Fewest pieces first, as a use can only contain others with fewer pieces.
        left = fits[np.argsort(self._counts[fits], kind="stable")]
        kept: list[int] = []
        while len(left):
            row = int(left[0])
            kept.append(row)
            left = left[(self.uses[left] < self.uses[row]).any(axis=1)]
        return np.array(kept, dtype=np.int64)


def fine_of(problem: Problem, step: SeriesStep, tuning: Tuning = TUNING) -> Fine | None:
    """The fine pieces of a step; None if there are none, or too many to try every use of them."""
    counts = _counts(problem, step)
    return Fine(problem.demands, step.length, counts) if _few(counts, tuning) else None


def for_building(problem: Problem, tuning: Tuning = TUNING) -> Fine | None:
    """Those that leave the fewest lengths beside them; if need be, only one of each length."""
    every = [(step.length, _counts(problem, step)) for step in series_steps(problem, tuning)]
    single = [(step, dict.fromkeys(counts, 1)) for step, counts in every]
    few = [each for each in every if _few(each[1], tuning)]
    few = few or [each for each in single if _few(each[1], tuning)]
    if not few:
        return None
    step, counts = max(few, key=lambda each: len(each[1]))
    return Fine(problem.demands, step, counts)


def _counts(problem: Problem, step: SeriesStep) -> dict[int, int]:
    return dict(Counter(problem.pieces[i].nominal for i in step.fine if not problem.pieces[i].wear))


def _few(counts: Mapping[int, int], tuning: Tuning) -> bool:
    return bool(counts) and prod(count + 1 for count in counts.values()) <= tuning.most_fine_uses


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
    steps = () if problem.signed else series_steps(problem, tuning)
    return tuple(
        Place(fine=fine, moves=_moves(fine, _rows(problem, step, fine)))
        for step in steps
        if (fine := fine_of(problem, step, tuning)) is not None
    )


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
