"""One stack from free pieces, with its length in a window: the fewest blocks, or an extreme length.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`reach`); otherwise a model of the one stack is solved (`model`).
"""

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.lone.knapsack import Knapsack, Pieces, knapsack
from wrung.planning.lone.model import NO_STACK, UNDECIDED, Probe, Window, search_window
from wrung.planning.problem import Problem
from wrung.subset_sums import affordable, least_counts, most_of, pick, reached


def build(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Probe:
    """A stack that serves the demand, of few blocks."""
    wanted = problem.demands[demand]
    window = Window(low=max(wanted.low, 1), high=wanted.high, want="fewest")
    return _probe(problem, demand, free, window, deadline)


def below(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Probe:
    """The longest stack that is too short for the demand."""
    window = Window(low=1, high=problem.demands[demand].low - 1, want="longest")
    return _probe(problem, demand, free, window, deadline)


def above(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Probe:
    """The shortest stack that is too long for the demand."""
    low = max(problem.demands[demand].high + 1, 1)
    # Leaving any adding piece out of the shortest such stack brings it below the window.
    longest = max((problem.pieces[i].nominal for i in free), default=0)
    window = Window(low=low, high=low + 2 * longest, want="shortest")
    return _probe(problem, demand, free, window, deadline)


def _probe(
    problem: Problem, demand: int, free: Sequence[int], window: Window, deadline: Deadline
) -> Probe:
    wanted = problem.demands[demand]
    if window.high < window.low or wanted.most < max(wanted.wear, 1):
        return NO_STACK
    if deadline.passed:
        return UNDECIDED
    if problem.signed:
        return search_window(problem, demand, free, window, deadline)
    sack = knapsack(
        problem.pieces,
        free,
        wear=wanted.wear,
        room=wanted.most - wanted.wear,
        tuning=deadline.tuning,
    )
    if sack is not None and not sack.fits(window.low, window.high):
        return NO_STACK
    if sack is None or not _affordable(sack, window, deadline):
        return search_window(problem, demand, free, window, deadline)
    find = (_fewest if window.want == "fewest" else _extreme)(sack, window)
    return NO_STACK if find is None else Probe(stack=_stack(sack, find), decided=True)


class _Find(Struct, frozen=True, kw_only=True):
    """A sum of gauge pieces, in steps, on an end of wear pieces."""

    end: int
    steps: int


def _affordable(sack: Knapsack, window: Window, deadline: Deadline) -> bool:
    return affordable(
        sack.sizes,
        _limit(sack, window),
        seconds=deadline.remaining,
        room=deadline.memory.left,
        tuning=deadline.tuning,
    )


def _limit(sack: Knapsack, window: Window) -> int:
    """The longest sum that can matter, in steps."""
    last = max((sack.span(window.low, window.high, end)[1] for end in sack.ends), default=0)
    return max(0, min(last, sum(sack.sizes)))


def _fewest(sack: Knapsack, window: Window) -> _Find | None:
    counts = least_counts(sack.sizes, _limit(sack, window))
    most = most_of(counts, sack.most)
    best: _Find | None = None
    for end, first, last in _spans(sack, window):
        within = counts[first : last + 1]
        if len(within) and (fewest := int(within.min())) <= most:
            # Fewer than on the ends before.
            best, most = _Find(end=end, steps=first + int(within.argmin())), fewest - 1
    return best


def _extreme(sack: Knapsack, window: Window) -> _Find | None:
    """The shortest or the longest, as is wanted."""
    there = reached(sack.sizes, sack.most, _limit(sack, window))
    which, choose = (0, min) if window.want == "shortest" else (-1, max)
    finds = [
        _Find(end=end, steps=first + int(within[which]))
        for end, first, last in _spans(sack, window)
        if len(within := np.flatnonzero(there[first : last + 1]))
    ]
    return choose(finds, key=lambda find: find.end + find.steps * sack.step, default=None)


def _spans(sack: Knapsack, window: Window) -> Iterator[tuple[int, int, int]]:
    """For each end, the first and last sum that bring it into the window."""
    for end in sack.ends:
        first, last = sack.span(window.low, window.high, end)
        if first <= last:
            yield end, first, last


def _stack(sack: Knapsack, find: _Find) -> Pieces:
    chosen = pick(sack.sizes, find.steps)
    return tuple(sorted((*sack.ends[find.end], *(sack.gauge[place] for place in chosen))))
