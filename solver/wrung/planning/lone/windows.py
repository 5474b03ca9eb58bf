"""One stack from free pieces, with its length in a window: the fewest blocks, or an extreme length.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`reach`); otherwise a model of the one stack is solved (`model`).
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.lone.knapsack import Knapsack, Pieces, knapsack
from wrung.planning.lone.model import NO_STACK, UNDECIDED, Probe, Want, Window, search_window
from wrung.planning.problem import Problem
from wrung.subset_sums import (
    Bits,
    affordable,
    few_affordable,
    highest,
    lowest,
    pick_few,
    sums,
)
from wrung.tuning import Tuning


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
    tuning = deadline.tuning
    find = _FINDERS[window.want](sack, window, tuning)
    return NO_STACK if find is None else Probe(stack=_stack(sack, find, tuning), decided=True)


class _Find(Struct, frozen=True, kw_only=True):
    """A sum of at most so many gauge pieces, in steps, on an end of wear pieces."""

    end: int
    steps: int
    most: int | None


def _affordable(sack: Knapsack, window: Window, deadline: Deadline) -> bool:
    return affordable(
        sack.sizes,
        sack.most,
        _limit(sack, window),
        seconds=deadline.remaining,
        room=deadline.memory.left,
        tuning=deadline.tuning,
    )


def _limit(sack: Knapsack, window: Window) -> int:
    """The longest sum that can matter, in steps."""
    last = max((sack.span(window.low, window.high, end)[1] for end in sack.ends), default=0)
    return max(0, min(last, sum(sack.sizes)))


def _fewest(sack: Knapsack, window: Window, tuning: Tuning) -> _Find | None:
    limit = _limit(sack, window)
    # If no number of pieces will do, this is known without trying each number.
    if not any(_finds(sack, window, sums(sack.sizes, None, limit)[0], None, lowest_first=True)):
        return None
    few = tuning.few_blocks if sack.most is None else min(tuning.few_blocks, sack.most)
    # Every count has its own set of sums, so a few counts are tried before all.
    counts = (few, sack.most) if few_affordable(sack.sizes, limit, tuning) else (sack.most,)
    for most in dict.fromkeys(counts):
        for count, reached in enumerate(sums(sack.sizes, most, limit)):
            capped = None if most is None else count
            find = next(_finds(sack, window, reached, capped, lowest_first=True), None)
            if find is not None:
                return find
    return None


def _longest(sack: Knapsack, window: Window, _: Tuning) -> _Find | None:
    reached = sums(sack.sizes, sack.most, _limit(sack, window))[-1]
    finds = _finds(sack, window, reached, sack.most, lowest_first=False)
    return max(finds, key=lambda find: find.end + find.steps * sack.step, default=None)


def _shortest(sack: Knapsack, window: Window, _: Tuning) -> _Find | None:
    reached = sums(sack.sizes, sack.most, _limit(sack, window))[-1]
    finds = _finds(sack, window, reached, sack.most, lowest_first=True)
    return min(finds, key=lambda find: find.end + find.steps * sack.step, default=None)


_Finder: TypeAlias = Callable[[Knapsack, Window, Tuning], _Find | None]
_FINDERS: Final[dict[Want, _Finder]] = {
    "fewest": _fewest,
    "longest": _longest,
    "shortest": _shortest,
}


def _finds(
    sack: Knapsack, window: Window, reached: Bits, most: int | None, *, lowest_first: bool
) -> Iterator[_Find]:
    """For each end, the lowest or highest sum that brings it into the window."""
    for end in sack.ends:
        first, last = sack.span(window.low, window.high, end)
        steps = lowest(reached, first) if lowest_first else highest(reached, last)
        if first <= steps <= last:
            yield _Find(end=end, steps=steps, most=most)


def _stack(sack: Knapsack, find: _Find, tuning: Tuning) -> Pieces:
    chosen = pick_few(sack.sizes, find.most, find.steps, tuning)
    return tuple(sorted((*sack.ends[find.end], *(sack.gauge[place] for place in chosen))))
