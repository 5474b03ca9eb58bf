"""Where the points of a grid stand among the sums."""

from math import gcd
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from wrung.coverage.answer import LengthGrid
from wrung.subset_sums import NONE, Counts

Fewest: TypeAlias = Counts
"""Of each point, the least number of blocks."""


class Places(Struct, frozen=True, kw_only=True):
    """The points that are sums at all: every ``n``-th of the grid, every ``m``-th of the sums.

    Attributes:
        points: which points of the grid.
        cells: which cells of the sums, one for each of these points.
        count: how many points the grid has.
    """

    points: slice
    cells: slice
    count: int

    def of(self, sums: Counts) -> Fewest:
        """The least number of blocks of each point that is a sum; a view."""
        return sums[-1, self.cells]

    def spread(self, fewest: Fewest) -> Fewest:
        """The same for every point of the grid; those between sums cannot be built."""
        every = np.full(self.count, NONE, dtype=np.uint8)
        every[self.points] = fewest
        return every


def places(grid: LengthGrid, step: int, top: int) -> Places:
    """Where the points of the grid stand among the sums ``0..top`` of that step."""
    count = len(grid.points)
    shared = gcd(step, grid.step)
    # Point i is a sum where start + i * grid.step is 0 modulo step: for every period-th i, or none.
    period = step // shared
    if grid.start % shared:
        return Places(points=slice(0, 0), cells=slice(0, 0), count=count)
    first = -(grid.start // shared) * pow(grid.step // shared, -1, period) % period
    cell, stride = (grid.start + first * grid.step) // step, grid.step // shared
    found = min(len(range(first, count, period)), len(range(cell, top + 1, stride)))
    return Places(
        points=slice(first, first + _extent(found, period), period),
        cells=slice(cell, cell + _extent(found, stride), stride),
        count=count,
    )


def _extent(count: int, stride: int) -> int:
    """How far so many strided elements reach."""
    return (count - 1) * stride + 1 if count else 0
