"""What counts: the blocks that come off or go on between one stack and the next."""

from itertools import pairwise

from wrung.planning.finding import Plan
from wrung.planning.problem import Problem


def successions(problem: Problem, plan: Plan) -> tuple[tuple[int, int], ...]:
    """Pairs of demands whose stacks follow one another; what is not served is passed over."""
    return tuple(
        pair
        for sequence in problem.sequences
        for pair in pairwise(demand for demand in sequence if plan[demand] is not None)
    )


def changed_blocks(problem: Problem, plan: Plan) -> int:
    """Blocks that come off or go on between stacks that follow one another, over all of them."""
    return sum(
        len(set(plan[before] or ()) ^ set(plan[after] or ()))
        for before, after in successions(problem, plan)
    )
