"""Where tolerances have more lengths than are searched: the starts that cost least, as it seems.

What a start costs at least is read from tables. A plan of those that are kept is a plan; that it is
the best is only known if it costs so little that no other start can be in a better one.
"""

from collections.abc import Callable

import numpy as np

from wrung.planning.candidates.starts import Starts
from wrung.planning.candidates.stock import NEVER, Ints, by_group, join_rows


class CheapestStarts:
    """Takes in starts and keeps no more than so many, of each demand at least a few.

    Args:
        costs: at least what stacks cost that begin like this; `NEVER` where there is none.
        demands: how many there are.
        most: starts that are kept.
        largest: whether plans are compared by their dearest stack; otherwise by the sum.
    """

    def __init__(
        self, costs: Callable[[Starts], Ints], demands: int, most: int, *, largest: bool
    ) -> None:
        self._costs = costs
        self._most = most
        self._largest = largest
        self._least = np.full(demands, NEVER)
        self._starts: list[Starts] = []
        self._own: list[Ints] = []
        self._count = 0
        self._within = NEVER

    def add(self, starts: Starts) -> None:
        """Take in some more."""
        costs = self._costs(starts)
        np.minimum.at(self._least, starts.demands, costs)
        near = costs - self._base()[starts.demands] <= self._within + 1
        rows = np.flatnonzero(near & (costs < NEVER))
        self._starts.append(starts.where(rows))
        self._own.append(costs[rows])
        self._count += len(rows)
        if self._count > 2 * self._most:
            self._keep()

    def kept(self) -> Starts:
        """Those that cost least."""
        self._keep()
        return self._starts[0]

    @property
    def some(self) -> bool:
        """Whether any were left out that a stack could begin with."""
        return self._within < NEVER

    @property
    def least(self) -> int:
        """No plan that serves all demands that can be built costs less."""
        least = self._least[self._least < NEVER]
        return int(least.max(initial=0) if self._largest else least.sum())

    @property
    def complete(self) -> int:
        """Plans of all these demands that cost no more consist of starts that are kept."""
        return self._within if self._largest else self.least + self._within

    def _keep(self) -> None:
        starts, own = join_rows(self._starts), np.concatenate(self._own)
        beyond = own - self._base()[starts.demands]
        if len(own) > self._most:
            # Of equal ones, those nearest to the target first, and as many of each demand.
            place = _places(starts.demands, own, np.abs(starts.offsets))
            few = self._most // (2 * len(self._least))
            order = np.lexsort((place, beyond, place >= few))
            rows, left = np.sort(order[: self._most]), order[self._most :]
            self._within = min(self._within, int(beyond[left].min()) - 1)
            starts, own = starts.where(rows), own[rows]
        self._starts, self._own, self._count = [starts], [own], len(own)

    def _base(self) -> Ints:
        """By demand, what a plan that serves all of them pays for it anyway."""
        return np.zeros_like(self._least) if self._largest else self._least


def _places(demands: Ints, own: Ints, off: Ints) -> Ints:
    """The place of each among those of its demand, the cheapest first."""
    near = np.lexsort((off, own))
    order, place = by_group(demands[near])
    found = np.empty_like(order)
    found[near[order]] = place
    return found
