"""What counts: the blocks that come off or go on between one step and the next."""

from itertools import pairwise
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem

Step: TypeAlias = tuple[int, ...]
"""Demands whose stacks stand together."""


def successions(problem: Problem, plan: Plan) -> tuple[tuple[Step, Step], ...]:
    """Steps that follow one another, with the demands served; others are passed over."""
    sequences = (
        [tuple(demand for demand in step if plan[demand] is not None) for step in sequence]
        for sequence in problem.sequences
    )
    return tuple(pair for steps in sequences for pair in pairwise(filter(None, steps)))


def changed_blocks(problem: Problem, plan: Plan) -> int:
    """Blocks that come off or go on between steps that follow one another, over all of them."""
    return sum(
        len(_pieces(plan, before) ^ _pieces(plan, after))
        for before, after in successions(problem, plan)
    )


def _pieces(plan: Plan, step: Step) -> set[int]:
    return {piece for demand in step for piece in plan[demand] or ()}


Counts: TypeAlias = npt.NDArray[np.int16]
"""No stack has more pieces; small, as there may be many kinds of blocks."""

Places: TypeAlias = npt.NDArray[np.float32]
"""One row per way; a column for the first piece of a kind, for the second, and so on: 0 or 1."""


def counted(candidates: Candidates, kinds: int) -> Counts:
    """How many pieces of each kind a candidate uses: one row per candidate, one column per kind."""
    uses = np.zeros((len(candidates), kinds), np.int16)
    row, column = np.nonzero(candidates.kinds >= 0)
    np.add.at(uses, (row, candidates.kinds[row, column]), 1)
    return uses


def places(uses: Ints | Counts, most: int) -> Places:
    """The same in ones and zeros, ``most`` a kind. Rows that meet in a column share a block."""
    return np.hstack([uses >= count for count in range(1, most + 1)]).astype(np.float32)


def kept(before: Places, after: Places) -> Ints:
    """Blocks that stay, by row of the one and row of the other."""
    stay: Ints = np.rint(before @ after.T).astype(np.int64)
    return stay
