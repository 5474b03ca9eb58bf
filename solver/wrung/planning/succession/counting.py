"""What counts: the blocks that change between steps, and what preferences make of each use."""

from collections import Counter
from itertools import pairwise
from typing import TypeAlias

from msgspec import Struct

from wrung.planning.finding import Plan
from wrung.planning.problem import Problem
from wrung.preferences import Preference, best_of_their_length

Step: TypeAlias = tuple[int, ...]
"""Demands whose stacks stand together."""


def successions(problem: Problem, plan: Plan) -> tuple[tuple[Step, Step], ...]:
    """Steps that follow one another, with the demands served; others are passed over."""
    sequences = (
        [tuple(demand for demand in step if plan[demand] is not None) for step in sequence]
        for sequence in problem.sequences
    )
    return tuple(pair for steps in sequences for pair in pairwise(filter(None, steps)))


class Changes(Struct, frozen=True, kw_only=True):
    """The blocks that come off or go on between steps that follow one another."""

    problem: Problem
    pairs: tuple[tuple[Step, Step], ...]

    def of(self, plan: Plan) -> int:
        """How many a plan has."""
        return sum(
            len(_bodies(self.problem, plan, before) ^ _bodies(self.problem, plan, after))
            for before, after in self.pairs
        )


def _bodies(problem: Problem, plan: Plan, step: Step) -> set[tuple[str, bool]]:
    return {problem.pieces[piece].body for demand in step for piece in plan[demand] or ()}


class Cost(Struct, frozen=True, kw_only=True):
    """What the uses of pieces cost.

    Attributes:
        pieces: cost of a use, by piece.
        rising: whether a use costs one more for each stack that had the piece before.
    """

    pieces: tuple[int, ...]
    rising: bool = False

    def of(self, plan: Plan) -> int:
        """What a plan comes to."""
        uses = Counter(piece for stack in plan for piece in stack or ())
        more = sum(n * (n - 1) // 2 for n in uses.values()) if self.rising else 0
        return sum(n * self.pieces[piece] for piece, n in uses.items()) + more


def cost_of(problem: Problem, preference: Preference) -> Cost:
    """What stands for a preference."""
    blocks = [piece.block for piece in problem.pieces]
    if preference.goal == "spread_wear":
        return Cost(pieces=tuple(block.uses for block in blocks), rising=True)
    if preference.goal == "prefer_set":
        return Cost(pieces=tuple(int(block.set != preference.set) for block in blocks))
    best = best_of_their_length(blocks)
    return Cost(pieces=tuple(int(block.id in best) for block in blocks))
