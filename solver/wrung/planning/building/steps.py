"""The steps of the series on the shelf, and the few pieces that are finer than each."""

from itertools import pairwise

import numpy as np
from msgspec import Struct

from wrung.planning.problem import Problem
from wrung.tuning import TUNING, Tuning


class Step(Struct, frozen=True, kw_only=True):
    """A step, quanta, and the indexes of the pieces whose lengths are no multiple of it."""

    length: int
    fine: tuple[int, ...]


def steps(problem: Problem, tuning: Tuning = TUNING) -> tuple[Step, ...]:
    """The steps with the fewest finer pieces, without those with all or no pieces finer.

    A step is the distance between two neighbouring lengths: in a set, the steps of its series.
    """
    ordered = sorted({piece.nominal for piece in problem.pieces})
    apart = sorted({longer - shorter for shorter, longer in pairwise(ordered)})
    lengths = np.array(apart, dtype=np.int64)
    nominals = np.array([piece.nominal for piece in problem.pieces], dtype=np.int64)
    fine = np.remainder(nominals[None, :], lengths[:, None]) != 0
    counts = fine.sum(axis=1)
    useful = np.flatnonzero((counts > 0) & (counts < len(nominals)))
    fewest = useful[np.argsort(counts[useful], kind="stable")][: tuning.most_steps]
    return tuple(
        Step(length=int(lengths[row]), fine=tuple(np.flatnonzero(fine[row]).tolist()))
        for row in fewest
    )
