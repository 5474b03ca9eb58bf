"""What a preference counts, block by block, as whole numbers that add."""

from collections import Counter

from msgspec import Struct

from wrung.planning.finding import Plan
from wrung.planning.problem import Problem
from wrung.preferences import Preference, best_of_their_length


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
