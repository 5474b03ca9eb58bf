"""Prices of what the columns of a packing share, from a linear programme over some of them."""

from typing import Final

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Floats, Ints
from wrung.planning.candidates.walk import first_rows
from wrung.planning.selection.programme import Programme
from wrung.planning.selection.set_packing import SetPacking

_NOTHING: Final = 1e-6
_HIGHEST: Final = 1 << 50


class PackingProgramme:
    """The linear programme over the columns of a packing, of which it holds few at a time.

    Others are added when their reduced costs show that they help.
    """

    def __init__(self, packing: SetPacking, deadline: Deadline) -> None:
        self._packing, self._deadline = packing, deadline
        # Divided by this, costs are of a size that suits floating point.
        self._unit = max(float(packing.costs.mean()), 1.0) / 100
        self._costs = packing.costs / self._unit
        there = [float(capacity) for capacity in packing.capacities[:-1].tolist()]
        dearest = (packing.dearest + 1) / self._unit
        every = Quota(np.zeros(packing.count, np.int64), (packing.count,))
        self._programme = Programme(every, there, dearest, deadline.tuning)
        self._programme.begin(float(self._costs.max(initial=1.0)))
        self._held = np.zeros(0, np.int64)
        self._offered = np.ones(len(packing.costs), np.bool_)
        order = np.argsort(packing.costs, kind="stable")
        self._hold(order[first_rows(packing.demands[order], deadline.tuning.programme_each)])

    def _hold(self, new: Ints) -> None:
        packing = self._packing
        uses = zip(packing.rows[new].tolist(), packing.times[new].tolist(), strict=True)
        costs, demands = self._costs[new].tolist(), packing.demands[new].tolist()
        for cost, demand, (rows, times) in zip(costs, demands, uses, strict=True):
            own = zip(rows, times, strict=True)
            self._programme.column(cost, demand, [(r, float(n)) for r, n in own if r >= 0])
        self._held = np.concatenate([self._held, new])

    def prices(self, columns: Ints, enough: int) -> Ints | None:
        """Prices of the rows where only these columns are left, the best unless these are enough.

        None if the solver gave up or the time is up.
        """
        self._leave(columns)
        while self._programme.solve(self._deadline):
            duals = self._programme.duals()
            new = self._helpful(columns, duals)
            if len(new):
                self._hold(new)
            elif self._value > enough or not self._programme.raise_artificials():
                return self._prices(duals)
        return None

    @property
    def _value(self) -> float:
        return self._programme.value * self._unit * self._packing.scale

    def _leave(self, columns: Ints) -> None:
        offered = np.zeros(len(self._packing.costs), np.bool_)
        offered[columns] = True
        changed = np.flatnonzero(offered[self._held] != self._offered[self._held])
        for place in changed.tolist():
            self._programme.take(place, 0.0, float(offered[self._held[place]]))
        self._offered = offered

    def _helpful(self, columns: Ints, duals: Floats) -> Ints:
        """Columns not yet held that make the programme cheaper, the most helpful first."""
        packing = self._packing
        others = np.setdiff1d(columns, self._held, assume_unique=True)
        paid = self._programme.paid_by_demands(duals)[packing.demands[others]]
        own = np.append(duals[: len(packing.capacities) - 1], 0.0)
        used = (own[packing.rows[others]] * packing.times[others]).sum(axis=1)
        reduced = self._costs[others] - paid - used
        order = np.argsort(reduced, kind="stable")[: self._deadline.tuning.programme_more]
        new: Ints = others[order[reduced[order] < -_NOTHING]]
        return new

    def _prices(self, duals: Floats) -> Ints:
        """In the packing's scale, whole; any prices of 0 or more prove a bound."""
        packing = self._packing
        # What is paid must add up.
        most = _HIGHEST // (int(packing.times.max(initial=1)) * len(packing.capacities))
        own = -duals[: len(packing.capacities) - 1] * self._unit * packing.scale
        return np.append(np.clip(own, 0.0, float(most)).astype(np.int64), 0)
