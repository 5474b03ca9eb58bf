"""One stack from free pieces, with its length in a window: the fewest blocks, or an extreme length.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`knapsack`); otherwise a model of the one stack is solved (`model`).
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TypeAlias

from wrung.deadline import Deadline
from wrung.planning.lone.knapsack import Knapsack, Pieces, knapsack
from wrung.planning.lone.model import NO_STACK, UNDECIDED, Probe, Window, search_window
from wrung.planning.problem import Demand, Problem

Buildable: TypeAlias = bool | None
"""None where there are too many sums to list in time."""


def build(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Probe:
    """A stack that serves the demand, of few blocks."""
    wanted = problem.demands[demand]
    window = Window(low=max(wanted.low, 1), high=wanted.high, want="fewest")
    sack = _sack(problem, demand, free, deadline)
    known = _known(problem, demand, sack, window, deadline)
    if known is not None:
        return known
    counts = None if sack is None else sack.counts(window.high, deadline)
    if sack is None or counts is None:
        return search_window(problem, demand, free, window, deadline)
    return _shown(sack.fewest(counts, window.low, window.high))


def neighbours(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[Probe, Probe]:
    """The longest stack that is too short for the demand, and the shortest that is too long."""
    wanted = problem.demands[demand]
    low = max(wanted.high + 1, 1)
    # Leaving any adding piece out of the shortest such stack brings it below the window.
    longest = max((problem.pieces[i].nominal for i in free), default=0)
    shorter = Window(low=1, high=wanted.low - 1, want="longest")
    longer = Window(low=low, high=low + 2 * longest, want="shortest")
    sack = _sack(problem, demand, free, deadline)
    there = None if sack is None else sack.reached(longer.high, deadline)

    def probe(window: Window) -> Probe:
        known = _known(problem, demand, sack, window, deadline)
        if known is not None:
            return known
        if sack is None or there is None:
            return search_window(problem, demand, free, window, deadline)
        far = window.want == "longest"
        return _shown(sack.extreme(there, window.low, window.high, longest=far))

    return probe(shorter), probe(longer)


def _sack(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> Knapsack | None:
    """None where pieces subtract, or there are too many ends."""
    wanted, tuning = problem.demands[demand], deadline.tuning
    room = wanted.most - wanted.wear
    if problem.signed:
        return None
    return knapsack(problem.pieces, free, wear=wanted.wear, room=room, tuning=tuning)


def _known(
    problem: Problem, demand: int, sack: Knapsack | None, window: Window, deadline: Deadline
) -> Probe | None:
    """What can be said without any sums."""
    wanted = problem.demands[demand]
    if window.high < window.low or wanted.most < max(wanted.wear, 1):
        return NO_STACK
    if sack is not None and not sack.fits(window.low, window.high):
        return NO_STACK
    return UNDECIDED if deadline.passed else None


def _shown(stack: Pieces | None) -> Probe:
    return NO_STACK if stack is None else Probe(stack=stack, decided=True)


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
