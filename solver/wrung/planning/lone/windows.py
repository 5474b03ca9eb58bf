"""One stack from free pieces, with its length in a window: the fewest blocks, or an extreme length.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`reach`); otherwise a model of the one stack is solved (`model`).
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.lone.heap import Heap, Stack, heap
from wrung.planning.lone.model import search_window
from wrung.planning.lone.probe import NO_STACK, UNDECIDED, Probe, Want, Window
from wrung.planning.lone.reach import (
    Bits,
    affordable,
    few_affordable,
    highest,
    lowest,
    pick_few,
    sums,
)
from wrung.planning.problem import Problem
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
    pile = heap(
        problem.pieces,
        free,
        wear=wanted.wear,
        room=wanted.most - wanted.wear,
        tuning=deadline.tuning,
    )
    if pile is not None and not pile.fits(window.low, window.high):
        return NO_STACK
    if pile is None or not _affordable(pile, window, deadline):
        return search_window(problem, demand, free, window, deadline)
    tuning = deadline.tuning
    find = _FINDERS[window.want](pile, window, tuning)
    return NO_STACK if find is None else Probe(stack=_stack(pile, find, tuning), decided=True)


class _Find(Struct, frozen=True, kw_only=True):
    """A sum of at most so many gauge pieces, in steps, on an end of wear pieces."""

    end: int
    steps: int
    most: int | None


def _affordable(pile: Heap, window: Window, deadline: Deadline) -> bool:
    return affordable(
        pile.sizes,
        pile.most,
        _limit(pile, window),
        seconds=deadline.remaining,
        room=deadline.memory.left,
        tuning=deadline.tuning,
    )


def _limit(pile: Heap, window: Window) -> int:
    """The longest sum that can matter, in steps."""
    last = max((pile.span(window.low, window.high, end)[1] for end in pile.ends), default=0)
    return max(0, min(last, sum(pile.sizes)))


def _fewest(pile: Heap, window: Window, tuning: Tuning) -> _Find | None:
    limit = _limit(pile, window)
    # If no number of pieces will do, this is known without trying each number.
    if not any(_finds(pile, window, sums(pile.sizes, None, limit)[0], None, lowest_first=True)):
        return None
    few = tuning.few_blocks if pile.most is None else min(tuning.few_blocks, pile.most)
    # Every count has its own set of sums, so a few counts are tried before all.
    counts = (few, pile.most) if few_affordable(pile.sizes, limit, tuning) else (pile.most,)
    for most in dict.fromkeys(counts):
        for count, reached in enumerate(sums(pile.sizes, most, limit)):
            capped = None if most is None else count
            find = next(_finds(pile, window, reached, capped, lowest_first=True), None)
            if find is not None:
                return find
    return None


def _longest(pile: Heap, window: Window, _: Tuning) -> _Find | None:
    reached = sums(pile.sizes, pile.most, _limit(pile, window))[-1]
    finds = _finds(pile, window, reached, pile.most, lowest_first=False)
    return max(finds, key=lambda find: find.end + find.steps * pile.step, default=None)


def _shortest(pile: Heap, window: Window, _: Tuning) -> _Find | None:
    reached = sums(pile.sizes, pile.most, _limit(pile, window))[-1]
    finds = _finds(pile, window, reached, pile.most, lowest_first=True)
    return min(finds, key=lambda find: find.end + find.steps * pile.step, default=None)


_Finder: TypeAlias = Callable[[Heap, Window, Tuning], _Find | None]
_FINDERS: Final[dict[Want, _Finder]] = {
    "fewest": _fewest,
    "longest": _longest,
    "shortest": _shortest,
}


def _finds(
    pile: Heap, window: Window, reached: Bits, most: int | None, *, lowest_first: bool
) -> Iterator[_Find]:
    """For each end, the lowest or highest sum that brings it into the window."""
    for end in pile.ends:
        first, last = pile.span(window.low, window.high, end)
        steps = lowest(reached, first) if lowest_first else highest(reached, last)
        if first <= steps <= last:
            yield _Find(end=end, steps=steps, most=most)


def _stack(pile: Heap, find: _Find, tuning: Tuning) -> Stack:
    chosen = pick_few(pile.sizes, find.most, find.steps, tuning)
    return tuple(sorted((*pile.ends[find.end], *(pile.gauge[place] for place in chosen))))
