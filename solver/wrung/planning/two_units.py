"""A stack of inch and metric pieces, whose lengths have no step in common but a very small one.

Each unit has sums in steps of its own, and every stack is a sum of one unit and one of the other.
So both are worked out by themselves, which takes a fortieth of the time (92 and 2 ms on shelves of
64 to 450 blocks; CPU time, 2026-11-30).
"""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.finding import IMPOSSIBLE, Result
from wrung.planning.knapsack import Knapsack, Want
from wrung.planning.problem import Demand, Problem
from wrung.subset_sums import least_within, most_of


class _Windows(Struct, frozen=True, kw_only=True):
    """Sums of one unit, in its steps, and which sums of the other serve the demand with each.

    The sums from ``first`` to ``last``, in steps of the other; some lie beyond those of all pieces.
    """

    sums: Ints
    first: Ints
    last: Ints


class TwoUnits(Struct, frozen=True, kw_only=True):
    """What a stack may be made of."""

    one: Knapsack
    other: Knapsack

    def stack(self, demand: Demand, want: Want) -> Result:
        """The wanted stack for the demand."""
        ends = self._fewest(demand) if want == "fewest" else self._end(demand, want)
        if ends is None:
            return IMPOSSIBLE
        pieces = sorted(self.one.pick(ends[0]) + self.other.pick(ends[1]))
        return Result(verdict="found", plan=(tuple(pieces),))

    def _fewest(self, demand: Demand) -> tuple[int, int] | None:
        """The sums of either unit with the fewest pieces."""
        own = self.one.counts[0]
        windows = self._windows(np.flatnonzero(own <= most_of(own, demand.most)), demand)
        sums, first, last = windows.sums, windows.first, windows.last
        if not len(sums):
            return None
        # Each window has so many sums, or one more.
        cells = (demand.high - demand.low) // self.other.unit
        none = most_of(self.other.counts, None) + 1
        beside = np.pad(self.other.counts[0], cells, constant_values=none).astype(np.int64)
        beside[beside == none] = NEVER
        counts = own[sums] + np.minimum(
            least_within(beside, cells)[first + cells], beside[last + cells]
        )
        best = int(counts.argmin())
        if counts[best] > demand.most:
            return None
        within = beside[first[best] + cells : last[best] + cells + 1]
        return int(sums[best]), int(first[best] + within.argmin())

    def _end(self, demand: Demand, want: Want) -> tuple[int, int] | None:
        """The sums of either unit that make the longest or the shortest stack."""
        own, others, found = self.one.counts[0], self.other.counts[0], list[tuple[int, int, int]]()
        sign = 1 if want == "longest" else -1
        for count in np.unique(own[own <= most_of(own, demand.most)]).tolist():
            windows = self._windows(np.flatnonzero(own == count), demand)
            may = np.flatnonzero(others <= most_of(others, demand.most - count))
            if sign > 0:
                place = np.searchsorted(may, windows.last, "right") - 1
            else:
                place = np.searchsorted(may, windows.first)
            inside = (place >= 0) & (place < len(may))
            sums, rest = windows.sums[inside], may[place[inside]]
            fits = (windows.first[inside] <= rest) & (rest <= windows.last[inside])
            sums, rest = sums[fits], rest[fits]
            if len(sums):
                lengths = sign * (sums * self.one.unit + rest * self.other.unit)
                best = int(lengths.argmax())
                found.append((int(lengths[best]), int(sums[best]), int(rest[best])))
        return max(found)[1:] if found else None

    def _windows(self, sums: Ints, demand: Demand) -> _Windows:
        """Those of these sums of one unit with which some sum of the other may serve."""
        step, longest = self.other.unit, demand.high - sums * self.one.unit
        first, last = -((demand.high - demand.low - longest) // step), longest // step
        some = (last >= 0) & (first <= last) & (first < self.other.counts.shape[1])
        return _Windows(sums=sums[some], first=first[some], last=last[some])


def of_two_units(
    problem: Problem, free: Sequence[int], demand: Demand, high: int, deadline: Deadline
) -> TwoUnits | None:
    """What a stack for the demand, of up to ``high`` quanta, may be made of.

    None where the free pieces are of one unit, or where another way has to be asked.
    """
    inch, metric = problem.by_unit(free)
    if demand.wear or problem.exclusive or not (inch and metric):
        return None
    one, other = (Knapsack(problem.pieces, own, demand, high, deadline) for own in (inch, metric))
    return TwoUnits(one=one, other=other) if one.known and other.known else None
