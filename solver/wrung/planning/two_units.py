"""A stack of inch and metric pieces, whose lengths have no step in common but a very small one.

Each unit has sums in steps of its own, and every stack is a sum of one unit and one of the other.
So both are worked out by themselves, which for exact lengths takes a fortieth of the time (2 and
92 ms on shelves of 64 to 500 blocks; CPU time, 2026-11-30).
"""

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.finding import IMPOSSIBLE, Result
from wrung.planning.knapsack import Knapsack, Want
from wrung.planning.problem import Demand, Problem
from wrung.subset_sums import Counts, least_within, most_of


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
        own, others = self.one.counts[0], self.other.counts[0]
        windows = self._windows(np.flatnonzero(own <= most_of(own, demand.most)), demand)
        if not len(windows.sums):
            return None
        beside = self._least(windows, (demand.high - demand.low) // self.other.unit)
        known = beside <= most_of(others, None)
        counts = np.where(known, own[windows.sums] + beside.astype(np.int64), NEVER)
        best = int(counts.argmin())
        if counts[best] > demand.most:
            return None
        first, last = max(int(windows.first[best]), 0), int(windows.last[best])
        return int(windows.sums[best]), first + int(others[first : last + 1].argmin())

    def _least(self, windows: _Windows, cells: int) -> Counts:
        """The least number of pieces of the other unit in windows of so many sums or one more."""
        others: Counts = self.other.counts[0]
        first, last = np.maximum(windows.first, 0), np.minimum(windows.last, len(others) - 1)
        least: Counts = others[last]
        inside = (windows.first > 0) & (windows.last < len(others) - 1)
        if cells and inside.any():
            least[inside] = np.minimum(least[inside], least_within(others, cells)[first[inside]])
        # Beyond either end there are no sums.
        from_first, to_last = windows.last >= len(others) - 1, windows.first <= 0
        least[from_first] = np.minimum.accumulate(others[::-1])[::-1][first[from_first]]
        least[to_last] = np.minimum.accumulate(others)[last[to_last]]
        return least

    def _end(self, demand: Demand, want: Want) -> tuple[int, int] | None:
        """The sums of either unit that make the longest or the shortest stack."""
        found: list[tuple[int, int, int]] = []
        sign = 1 if want == "longest" else -1
        for sums, may in self._by_count(demand):
            windows = self._windows(sums, demand)
            if sign > 0:
                place = np.searchsorted(may, windows.last, "right") - 1
            else:
                place = np.searchsorted(may, windows.first)
            inside = (place >= 0) & (place < len(may))
            own, rest = windows.sums[inside], may[place[inside]]
            fits = (windows.first[inside] <= rest) & (rest <= windows.last[inside])
            own, rest = own[fits], rest[fits]
            if len(own):
                lengths = sign * (own * self.one.unit + rest * self.other.unit)
                best = int(lengths.argmax())
                found.append((int(lengths[best]), int(own[best]), int(rest[best])))
        return max(found)[1:] if found else None

    def _by_count(self, demand: Demand) -> Iterator[tuple[Ints, Ints]]:
        """Sums of one unit, and those of the other that a stack may have with any of them."""
        own, others = self.one.counts[0], self.other.counts[0]
        most = most_of(own, demand.most)
        counts = np.unique(own[own <= most])
        # What all pieces together keep to is no limit.
        free = int(counts[-1]) + int(others[others <= most_of(others, None)].max()) <= demand.most
        for count in counts[-1:].tolist() if free else counts.tolist():
            may = np.flatnonzero(others <= most_of(others, demand.most - count))
            yield np.flatnonzero(own <= most if free else own == count), may

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
    sorting = len(free) * deadline.tuning.seconds_a_piece
    if demand.wear or problem.exclusive or deadline.remaining < sorting:
        return None
    inch, metric = problem.by_unit(k for k in free if not problem.pieces[k].wear)
    if not (inch and metric):
        return None
    half, tuning = deadline.share(0.5), deadline.tuning
    one, other = (Knapsack(problem.pieces, own, demand, high, half) for own in (inch, metric))
    sums = one.limit + other.limit
    soon = sums <= deadline.remaining * tuning.sums_a_second
    room = deadline.memory.room(sums * tuning.bytes_a_sum_of_two)
    return TwoUnits(one=one, other=other) if one.known and other.known and soon and room else None
