"""Which demands could be built if every piece were free."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TypeAlias

from wrung.deadline import Deadline
from wrung.planning.lone.knapsack import knapsack
from wrung.planning.problem import Demand, Problem

Buildable: TypeAlias = bool | None
"""None where there are too many sums to list in time."""


def buildable_alone(problem: Problem, deadline: Deadline) -> tuple[Buildable, ...]:
    """For each demand whether it can be built from all pieces, where that is quickly proven.

    Demands that may use the same number of gauge pieces share one table of sums.
    """
    if problem.signed:
        return (None,) * len(problem.demands)
    groups: defaultdict[tuple[int, int], list[int]] = defaultdict(list)
    for index, demand in enumerate(problem.demands):
        groups[demand.wear, demand.most - demand.wear].append(index)
    known: dict[int, Buildable] = {}
    for (wear, room), group in groups.items():
        demands = [problem.demands[k] for k in group]
        known.update(zip(group, _judge(problem, demands, wear, room, deadline), strict=True))
    return tuple(known[k] for k in range(len(problem.demands)))


def _judge(
    problem: Problem, demands: Sequence[Demand], wear: int, room: int, deadline: Deadline
) -> Iterable[Buildable]:
    # More wear blocks are asked for than the stack may have blocks.
    if room < 0:
        return [False] * len(demands)
    sack = knapsack(
        problem.pieces, range(len(problem.pieces)), wear=wear, room=room, tuning=deadline.tuning
    )
    if sack is None:
        return [None] * len(demands)
    share = deadline.share(deadline.tuning.share_for_each_alone)
    there = sack.reached(max(demand.high for demand in demands), share)
    windows = [(max(demand.low, 1), demand.high) for demand in demands]
    if there is None:
        # If no whole number of steps lies in the window, that is proof enough without any sums.
        return [None if sack.fits(*window) else False for window in windows]
    return [sack.builds(there, *window) for window in windows]
