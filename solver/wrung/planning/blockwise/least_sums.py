"""The least cost of a stack if the whole shelf is free for it, for every length at once.

The textbook dynamic programme for the 0/1 knapsack (Bellman 1957), one array operation per piece.
Where pieces subtract, the table has negative lengths too, as a partial stack may have one.
"""

from collections.abc import Sequence
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from wrung.deadline import Deadline
from wrung.planning.blockwise.scaled import Scaled

Ints: TypeAlias = npt.NDArray[np.int64]
_Table: TypeAlias = npt.NDArray[np.signedinteger[Any]]


class LeastSums:
    """Least sum of a cost per kind over any pieces of a given total length.

    ``zero`` is the place of the length 0 in the table; a sum above ``most`` means that there is
    none.
    """

    def __init__(
        self, scaled: Scaled, costs: Sequence[int], table: _Table, most: int, zero: int = 0
    ) -> None:
        self._scaled = scaled
        self._costs = costs
        self._table = table
        self._most = most
        self._zero = zero

    def least(self, window: range) -> int | None:
        """Over the lengths of the window; None if no pieces have such a length."""
        return self._lowest(window.start, window.stop)

    def least_with(self, window: range, kind: int) -> int | None:
        """The same for stacks with a piece of the kind, and perhaps for some that cannot be built.

        The kind's piece is not taken out of the shelf for the rest, so this is a lower bound.
        """
        nominal = self._scaled.nominals[kind]
        rest = self._lowest(window.start - nominal, window.stop - nominal)
        return None if rest is None else rest + self._costs[kind]

    def each(self, window: range) -> tuple[Ints, Ints]:
        """The lengths of the window that some pieces have, and the least cost of each."""
        costs = self._part(window.start, window.stop).astype(np.int64)
        built = np.flatnonzero(costs <= self._most)
        return built + window.start, costs[built]

    def _lowest(self, start: int, stop: int) -> int | None:
        part = self._part(start, stop)
        lowest = int(part.min()) if part.size else self._most + 1
        return None if lowest > self._most else lowest

    def _part(self, start: int, stop: int) -> _Table:
        # A negative index would count from the end of the table.
        return self._table[max(start + self._zero, 0) : max(stop + self._zero, 0)]


def least_sums(scaled: Scaled, costs: Sequence[int], deadline: Deadline) -> LeastSums | None:
    """For all open windows; None where that would take too long."""
    if scaled.problem.signed:
        return _signed(scaled, costs, deadline)
    top = max((window[-1] for window in scaled.windows if window), default=0)
    copies = [
        min(len(kind.pieces), top // nominal)
        for kind, nominal in zip(scaled.kinds, scaled.nominals, strict=True)
    ]
    most = sum(abs(cost) * count for cost, count in zip(costs, copies, strict=True))
    dtype = _smallest_dtype(most)
    if not _affordable(scaled, (top + 1) * dtype.itemsize, sum(copies), deadline):
        return None
    # Half of what fits, so that costs added to it do not overflow.
    never = int(np.iinfo(dtype).max) // 2
    table = np.full(top + 1, never, dtype=dtype)
    table[0] = 0
    reach = 0
    # Shortest first: the lengths reached, and so the work, stay few for as long as possible.
    for kind in sorted(range(len(copies)), key=scaled.nominals.__getitem__):
        nominal = scaled.nominals[kind]
        for _ in range(copies[kind]):
            if deadline.passed:
                return None
            reach = min(reach + nominal, top)
            # A new array, so that a piece is not added to sums that already contain it.
            with_it = table[: reach + 1 - nominal] + dtype.type(costs[kind])
            np.minimum(table[nominal : reach + 1], with_it, out=table[nominal : reach + 1])
    return deadline.memory.hold(LeastSums(scaled, costs, table, most), table.nbytes)


def _signed(scaled: Scaled, costs: Sequence[int], deadline: Deadline) -> LeastSums | None:
    """The same with blocks that may stand either way round, but not both."""
    counts = {kinds: len(scaled.kinds[kinds[0]].pieces) for kinds in scaled.same_blocks()}
    ways = {kinds: [(scaled.nominals[k], costs[k]) for k in kinds] for kinds in counts}
    # Not cut off at the windows: a block that subtracts may bring a sum back.
    reach = sum(max(abs(n) for n, _ in ways[kinds]) * count for kinds, count in counts.items())
    most = sum(max(cost for _, cost in ways[kinds]) * count for kinds, count in counts.items())
    dtype = _smallest_dtype(most)
    if not _affordable(scaled, (2 * reach + 1) * dtype.itemsize, len(costs), deadline):
        return None
    table = np.full(2 * reach + 1, int(np.iinfo(dtype).max) // 2, dtype=dtype)
    table[reach] = 0
    for kinds, count in counts.items():
        for _ in range(count):
            if deadline.passed:
                return None
            table = _with_block(table, ways[kinds])
    found = LeastSums(scaled, costs, table, most, zero=reach)
    return deadline.memory.hold(found, table.nbytes)


def _with_block(table: _Table, ways: Sequence[tuple[int, int]]) -> _Table:
    """With one more block, which adds its length, perhaps negative, in one of these ways."""
    # Each way starts from the table without the block, as a block can be used in one way only.
    grown = table.copy()
    for nominal, cost in ways:
        kept = len(table) - abs(nominal)
        low, high = slice(kept), slice(-kept, None)
        before, after = (low, high) if nominal > 0 else (high, low)
        with_it = table[before] + table.dtype.type(cost)
        np.minimum(grown[after], with_it, out=grown[after])
    return grown


def _affordable(scaled: Scaled, size: int, times: int, deadline: Deadline) -> bool:
    """Whether there is room for a table of that size, and time to fill it piece by piece."""
    quick = size * times <= min(
        deadline.tuning.bytes_of_sums_a_demand * len(scaled.open), deadline.tuning.bytes_of_sums
    )
    return quick and deadline.memory.room(size * deadline.tuning.copies_of_least_sums)


def _smallest_dtype(total: int) -> np.dtype[np.signedinteger[Any]]:
    """The smallest type whose half range, which marks what cannot be built, exceeds all costs."""
    small: tuple[np.dtype[np.signedinteger[Any]], ...] = (np.dtype(np.int16), np.dtype(np.int32))
    fitting = (dtype for dtype in small if total < np.iinfo(dtype).max // 4)
    return next(fitting, np.dtype(np.int64))
