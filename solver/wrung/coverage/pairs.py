"""The two offers that restore most together, proven best unless the time ends.

A point that a pair restores is restored by the one, by the other, or by a stack that holds both;
how many the last are depends on their lengths' sum alone, and few sums occur among many pairs. So
the three counts, added, bound each pair from above, and most pairs need no closer look.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt

from wrung.coverage.restoring import Offer, Restoring
from wrung.deadline import Deadline

_FIRST: Final = 8
"""How many of the best single offers are paired first, for a result that is hard to beat."""


def best_pair(
    restoring: Restoring, offers: Sequence[Offer], deadline: Deadline
) -> tuple[tuple[Offer, Offer] | None, bool]:
    """The pair that restores most, of equal ones the shortest, and whether that is proven.

    None where no pair restores more than the best single offer. ``offers`` come best first.
    """
    if not restoring.missing or not offers:
        return None, True
    best = _Best(restoring, more_than=restoring.count(offers[0]))
    for pair in combinations(offers[:_FIRST], 2):
        if deadline.passed:
            return best.pair, False
        best.look_at(pair)
    bounded = _Bounded(restoring, offers)
    if not bounded.work_out(deadline):
        return best.pair, False
    for one, other, bound in bounded.descending():
        # Bounds only fall from here on. Of equal ones some pair may still be shorter.
        if bound < best.restored:
            break
        if deadline.passed:
            return best.pair, False
        if best.may_be_beaten(bound, one.kind.size + other.kind.size):
            best.look_at((one, other))
    return best.pair, True


class _Best:
    """The best pair seen."""

    def __init__(self, restoring: Restoring, *, more_than: int) -> None:
        self.pair: tuple[Offer, Offer] | None = None
        self.restored = more_than
        # No pair is shorter: one that restores no more than the best single offer is no gain.
        self._size = -1
        self._restoring = restoring

    def may_be_beaten(self, restored: int, size: int) -> bool:
        return restored > self.restored or (restored == self.restored and size < self._size)

    def look_at(self, pair: tuple[Offer, Offer]) -> None:
        size = pair[0].kind.size + pair[1].kind.size
        restored = self._restoring.count_by_any(pair)
        if self.may_be_beaten(restored, size):
            self.pair, self.restored, self._size = pair, restored, size


class _Bounded:
    """All pairs, each with a bound that it cannot exceed."""

    def __init__(self, restoring: Restoring, offers: Sequence[Offer]) -> None:
        self._restoring = restoring
        self._offers = offers
        one, other = np.triu_indices(len(offers))
        several = np.array([offer.several for offer in offers])
        # An offer pairs with itself only where there are two of it.
        kept = (one != other) | several[one]
        self._one, self._other = one[kept], other[kept]
        sizes = np.array([offer.kind.size for offer in offers], dtype=np.int64)
        wear = np.array([offer.kind.is_wear for offer in offers], dtype=np.int64)
        self._sizes = sizes[self._one] + sizes[self._other]
        self._wear = wear[self._one] + wear[self._other]
        self._bounds: npt.NDArray[np.int64] = np.zeros(len(self._sizes), dtype=np.int64)

    def work_out(self, deadline: Deadline) -> bool:
        """Work out the bounds; false if the time ended first."""
        alone = np.array([self._restoring.count(offer) for offer in self._offers], dtype=np.int64)
        # One number for length and wear blocks together.
        keys, which = np.unique(self._sizes * 3 + self._wear, return_inverse=True)
        together = np.zeros(len(keys), dtype=np.int64)
        for place, key in enumerate(keys.tolist()):
            if deadline.passed:
                return False
            together[place] = self._restoring.count_by_both(*divmod(key, 3))
        bounds = alone[self._one] + alone[self._other] + together[which]
        self._bounds = np.minimum(bounds, self._restoring.missing)
        return True

    def descending(self) -> Iterator[tuple[Offer, Offer, int]]:
        """The pairs with the greatest bound first, of equal ones the shortest."""
        order: list[int] = np.lexsort((self._sizes, -self._bounds)).tolist()
        for place in order:
            one, other = int(self._one[place]), int(self._other[place])
            yield self._offers[one], self._offers[other], int(self._bounds[place])
