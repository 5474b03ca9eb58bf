"""The few pieces that carry the last decimals, and how they bring a length to whole steps.

For a fine step, only a few pieces are not multiples of it. From these every stack has to take what
brings the rest of its length to a multiple of the step: a *pattern*.
"""

from collections import Counter
from collections.abc import Mapping
from itertools import pairwise
from math import prod
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung.planning.problem import Demand, Problem
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
