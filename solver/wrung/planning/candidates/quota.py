"""How many demands of each priority class a plan serves, and what that says of least costs."""

from collections.abc import Iterator
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.stock import NEVER, Ints

ByClass: TypeAlias = tuple[int, ...]
"""By class, the most urgent first: how many demands of it are served."""


class Quota(Struct, frozen=True):
    """Plans that serve exactly so many demands of each class.

    Attributes:
        classes: the class of each demand.
        counts: how many of each class are served.
    """

    classes: Ints
    counts: ByClass

    @property
    def total(self) -> int:
        """How many demands are served in all."""
        return sum(self.counts)

    @property
    def sizes(self) -> ByClass:
        """How many demands of each class there are."""
        return tuple(np.bincount(self.classes, minlength=len(self.counts)).tolist())

    @property
    def possible(self) -> bool:
        """Whether there are as many demands of each class."""
        return all(count <= size for count, size in zip(self.counts, self.sizes, strict=True))

    def of(self, demands: Ints) -> "Quota":
        """The same for some of the demands, numbered anew."""
        return Quota(self.classes[demands], self.counts)

    def with_count(self, number: int, count: int) -> "Quota":
        """The same with so many of one class."""
        return Quota(self.classes, (*self.counts[:number], count, *self.counts[number + 1 :]))

    def parts(self) -> Iterator[tuple[Ints, int]]:
        """The demands of each class, and how many of them are served."""
        for number, count in enumerate(self.counts):
            yield np.flatnonzero(self.classes == number), count

    def highest(self, costs: Ints) -> Ints:
        """By demand, the dearest of the least costs that suffice for its class; -1 where none is.

        One outside the least would take the place of that one.
        """
        found = np.full(len(costs), -1)
        for demands, count in self.parts():
            if count > len(demands):
                found[demands] = NEVER
            elif count:
                found[demands] = np.sort(costs[demands])[count - 1]
        return found

    def least_sum(self, costs: Ints) -> int:
        """The least that so many demands cost together; `NEVER` where there are not as many."""
        total = 0
        for demands, count in self.parts():
            smallest = np.sort(costs[demands])[:count]
            if len(smallest) < count or smallest.max(initial=0) >= NEVER:
                return NEVER
            total += int(smallest.sum())
        return total

    def bound(self, least: Ints, capacity_cost: int) -> int:
        """No plan costs less, given the least priced cost of each demand and what all pieces cost.

        That is the Lagrangian bound, for any prices of 0 or more; `NEVER` where there is no plan.
        """
        total = self.least_sum(least)
        return NEVER if total >= NEVER else total - capacity_cost

    def counted(self, least: Ints) -> Ints:
        """By demand, what a plan pays for it at least: no more than the dearest that suffices.

        One outside the smallest would take the place of the last of them.
        """
        return np.minimum(least, self.highest(least))

    def least_largest(self, costs: Ints) -> int:
        """The least that the dearest of so many demands costs."""
        return int(self.highest(costs).max(initial=0))
