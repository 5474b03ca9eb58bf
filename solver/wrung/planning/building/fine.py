"""The few pieces that carry the last decimals, and how they bring lengths to whole steps.

For a fine step, only a few pieces are not multiples of it. From these every stack has to take what
brings the rest of its length to a multiple of the step: a *pattern*. Patterns of demands that are
needed at one time must not share a piece. If they cannot be packed side by side, the demands cannot
all be served, whatever else is on the shelf.
"""

from collections import Counter
from collections.abc import Collection, Mapping
from functools import cached_property, reduce
from math import prod
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.keeping import kept
from wrung.planning.candidates.stock import Ints
from wrung.planning.problem import Demand, Problem
from wrung.subset_sums import as_bits
from wrung.tuning import TUNING, Tuning

Uses: TypeAlias = int
"""Some of the ways to use the fine pieces, as the bits of a number."""


class SeriesStep(Struct, frozen=True, kw_only=True):
    """A step, quanta, and the indexes of the pieces whose lengths are no multiple of it."""

    length: int
    fine: tuple[int, ...]


def series_steps(problem: Problem, tuning: Tuning = TUNING) -> tuple[SeriesStep, ...]:
    """The steps with the fewest finer pieces, without those with all or no pieces finer.

    A step is the distance between two neighbouring lengths: in a set, the steps of its series. Of
    several sets, such as an inch and a metric one, it may also be what two steps have in common.
    """
    return kept(
        problem.pieces, ("series steps", tuning.most_steps), lambda: _steps(problem, tuning)
    )


def _steps(problem: Problem, tuning: Tuning) -> tuple[SeriesStep, ...]:
    nominals = np.array([piece.nominal for piece in problem.pieces], dtype=np.int64)
    steps = _fewest_finer(nominals, np.unique(np.diff(np.unique(nominals))), tuning)
    lengths = np.array([step.length for step in steps], dtype=np.int64)
    common = np.setdiff1d(np.gcd.outer(lengths, lengths), lengths)
    return _fewest_finer(nominals, np.concatenate([lengths, common]), tuning)


def _fewest_finer(nominals: Ints, lengths: Ints, tuning: Tuning) -> tuple[SeriesStep, ...]:
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
    """

    def __init__(self, problem: Problem, step: SeriesStep, counts: Mapping[int, int]) -> None:
        """``counts`` says how many pieces of each length may be used."""
        self.step = step.length
        self.lengths = tuple(counts)
        self._shape = [count + 1 for count in counts.values()]
        self._demands = problem.demands
        # A wear block or a step that is fine adds ways to make up a length that are not considered.
        self._worn = any(problem.pieces[piece].wear for piece in step.fine)
        self._stepped = any(problem.pieces[piece].step for piece in step.fine)
        self._moves: dict[int, list[tuple[int, Uses]]] = {}
        self._room: dict[int, Uses] = {}

    @cached_property
    def uses(self) -> Ints:
        """A row for every way to use the pieces: how many of each length.

        They are counted up like the digits of a number: the numbers of two rows add up to that of
        both together.
        """
        return np.indices(self._shape).reshape(len(self._shape), -1).T.astype(np.int64)

    @cached_property
    def sums(self) -> Ints:
        """The lengths of the uses, quanta."""
        sums: Ints = self.uses @ np.array(self.lengths, dtype=np.int64)
        return sums

    @cached_property
    def _counts(self) -> Ints:
        counts: Ints = self.uses.sum(axis=1)
        return counts

    def rows(self, demand: Demand) -> Ints:
        """The uses that serve the demand and of which no part does, fewest pieces first."""
        # They leave a multiple of the step.
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

    def packed(self, demands: Collection[int], deadline: Deadline) -> int:
        """No more of these demands have patterns that fit side by side.

        Each that there was no time for is counted as if it fitted.
        """
        # The uses that serve each number of demands.
        served: list[Uses] = [1]
        for looked_at, demand in enumerate(demands):
            if deadline.passed:
                return len(served) - 1 + len(demands) - looked_at
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
        if demand not in self._moves:
            self._moves[demand] = self._patterns(self._demands[demand])
        together = 0
        for row, room in self._moves[demand]:
            # Rows add up, so that adding a pattern to every use at once is a shift.
            together |= (uses & room) << row
        return together

    def _patterns(self, demand: Demand) -> list[tuple[int, Uses]]:
        """The rows that serve the demand, each with the uses beside which it has room."""
        excused = (self._worn and demand.wear) or (self._stepped and demand.step)
        rows = [0] if excused else self.rows(demand).tolist()
        return [(row, self._beside(row)) for row in rows]

    def _beside(self, row: int) -> Uses:
        """The uses beside which that one has room."""
        if row not in self._room:
            free = self.uses[-1] - self.uses[row]
            self._room[row] = as_bits((self.uses <= free).all(axis=1))
        return self._room[row]


def each_step(problem: Problem, tuning: Tuning = TUNING, *, single: bool = False) -> list[Fine]:
    """The fine pieces of each step that has few enough to try every use of them.

    Where ``single``, only one of each length.
    """
    found: list[Fine] = []
    for step in () if problem.signed else series_steps(problem, tuning):
        fine = [problem.pieces[piece] for piece in step.fine]
        counts = dict(Counter(each.nominal for each in fine if not (each.wear or each.step)))
        counts = dict.fromkeys(counts, 1) if single else counts
        if counts and prod(count + 1 for count in counts.values()) <= tuning.most_fine_uses:
            found.append(Fine(problem, step, counts))
    return found


def for_building(problem: Problem, tuning: Tuning = TUNING) -> Fine | None:
    """Those that leave the fewest lengths beside them; if need be, only one of each length.

    A stack seldom takes two of one fine length, and tables of coarse steps are small.
    """
    found = (*each_step(problem, tuning), *each_step(problem, tuning, single=True))
    return max(found, key=lambda fine: len(fine.lengths), default=None)
