"""What counts: the blocks that come off or go on between one step and the next."""

from itertools import pairwise
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

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


def counted(candidates: Candidates, kinds: int) -> Counts:
    """How many pieces of each kind a candidate uses: one row per candidate, one column per kind."""
    uses = np.zeros((len(candidates), kinds), np.int16)
    row, column = np.nonzero(candidates.kinds >= 0)
    np.add.at(uses, (row, candidates.kinds[row, column]), 1)
    return uses
