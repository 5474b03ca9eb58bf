"""One sequence by itself: a shortest way through the ways to build its steps."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints
from wrung.planning.succession.counting import Places, kept, places
from wrung.planning.succession.steps import Ways


class Path(Struct, frozen=True, kw_only=True):
    """The way chosen for each step, and the blocks that change from step to step."""

    places: tuple[int, ...]
    changes: int


def shortest_path(steps: Sequence[Ways], deadline: Deadline) -> Path | None:
    """The path with the fewest changes: Bellman's recursion over the steps in their order.

    None if the time is up first.

    Args:
        steps: for each step in turn the ways to choose from, none of them empty.
        deadline: ends the search.
    """
    most = max((int(step.uses.max(initial=1)) for step in steps), default=1)
    least = np.zeros(len(steps[0].blocks), np.int64)
    chosen: list[Ints] = []
    used = places(steps[0].uses, most)
    for before, after in pairwise(steps):
        using = places(after.uses, most)
        step = _step(used, using, least + before.blocks, deadline)
        if step is None:
            return None
        way, least = step[0], step[1] + after.blocks
        used = using
        chosen.append(way)
    found = [int(least.argmin())]
    for way in reversed(chosen):
        found.append(int(way[found[-1]]))
    return Path(places=tuple(reversed(found)), changes=int(least.min()))


def _step(
    before: Places, after: Places, spent: Ints, deadline: Deadline
) -> tuple[Ints, Ints] | None:
    """For each next way, the best one before it, and the cost of that without its own blocks."""
    # In slices, so that the matrices stay small and the clock is looked at often.
    width = max(deadline.tuning.path_cells // len(before), 1)
    ways: list[Ints] = []
    least: list[Ints] = []
    for first in range(0, len(after), width):
        if deadline.passed:
            return None
        stay = kept(before, after[first : first + width])
        # What stays counts in both steps, though it neither comes off nor goes on.
        total = spent[:, None] - 2 * stay
        ways.append(total.argmin(axis=0))
        least.append(total.min(axis=0))
    return np.concatenate(ways), np.concatenate(least)
