"""What demands that are needed at the same time use up together: simple proofs of a shortage.

Each need names something that every stack uses, and how much of it is on the shelf.
Demands that need more than there is cannot all be served. The needs are necessary conditions only;
demands that pass them all may still not fit together.
"""

from collections.abc import Callable, Collection
from itertools import accumulate

from msgspec import Struct

from wrung.planning.building.fine import series_steps
from wrung.planning.problem import Demand, Problem
from wrung.tuning import TUNING, Tuning


class Need(Struct, frozen=True, kw_only=True):
    """The least that each demand takes of one thing, by index of the demand, and how much there is.

    It holds for demands that are needed at one time.
    """

    amounts: tuple[int, ...]
    supply: int

    def unserved(self, demands: Collection[int]) -> int:
        """At least this many of these demands cannot be served together."""
        # Those that need least first: no other choice of as many demands needs less.
        used = accumulate(sorted(self.amounts[k] for k in demands))
        return sum(1 for total in used if total > self.supply)

    def conflict(self, demands: Collection[int]) -> tuple[int, ...]:
        """The fewest of these demands that need more than there is; empty if they do not."""
        # Taking those that need most first uses up the supply with the fewest demands.
        greediest = sorted(demands, key=lambda k: (-self.amounts[k], k))
        used = list(accumulate(self.amounts[k] for k in greediest))
        enough = sum(1 for total in used if total <= self.supply)
        return tuple(sorted(greediest[: enough + 1])) if enough < len(used) else ()


def needs(problem: Problem, tuning: Tuning = TUNING) -> tuple[Need, ...]:
    """Every need that the problem's demands have."""
    if problem.signed:  # pieces that subtract make lengths up out of longer ones
        return (_wear_blocks(problem),)
    return (_wear_blocks(problem), _length(problem), *_fine_pieces(problem, tuning))


def _wear_blocks(problem: Problem) -> Need:
    """Every end that asks for a wear block takes one."""
    return _need(problem, lambda demand: demand.wear, sum(piece.wear for piece in problem.pieces))


def _length(problem: Problem) -> Need:
    """The stacks together are no longer than all pieces together."""
    total = sum(piece.nominal for piece in problem.pieces)
    return _need(problem, lambda demand: max(demand.low, 0), total)


def _fine_pieces(problem: Problem, tuning: Tuning) -> list[Need]:
    """A length that is not a multiple of a step takes at least one piece that is not one either."""
    worn = any(demand.wear for demand in problem.demands)
    return [
        _need(
            problem,
            _no_multiple_of(step.length),
            # Where stacks have wear blocks, a fine one of these may be the piece.
            sum(1 for piece in step.fine if worn or not problem.pieces[piece].wear),
        )
        for step in series_steps(problem, tuning)
    ]


def _need(problem: Problem, amount: Callable[[Demand], int], supply: int) -> Need:
    return Need(amounts=tuple(map(amount, problem.demands)), supply=supply)


def _no_multiple_of(length: int) -> Callable[[Demand], int]:
    return lambda demand: int(demand.high // length * length < demand.low)
