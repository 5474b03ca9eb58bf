"""Where the points of a grid stand among the sums, and what can be built: counts, runs and gaps."""

from math import gcd
from typing import TypeAlias

import numpy as np
from msgspec import Struct

from wrung.coverage.answer import LengthGrid, NeededBlocks, Reach, Run
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


def reach(grid: LengthGrid, fewest: Fewest, most: int, *, max_runs: int, max_gaps: int) -> Reach:
    """What can be built with ``most`` blocks; ``fewest`` has one number for each grid point."""
    counts = np.where(fewest <= most, fewest, 0).astype(np.uint8)
    runs = _Runs(grid, counts)
    by_count = np.bincount(counts)
    gaps = runs.gaps()
    return Reach(
        fewest=counts.tobytes(),
        buildable_count=int(np.count_nonzero(counts)),
        histogram=tuple(
            NeededBlocks(block_count=blocks, length_count=int(points))
            for blocks, points in enumerate(by_count)
            if blocks and points
        ),
        runs=tuple(runs.run(place) for place in range(min(max_runs, runs.count))),
        run_count=runs.count,
        gaps=tuple(runs.run(int(place)) for place in gaps[:max_gaps]),
        gap_count=len(gaps),
    )


class _Runs:
    """The grid in runs; written out only where somebody wants to read them: there may be many."""

    def __init__(self, grid: LengthGrid, counts: Fewest) -> None:
        built = counts > 0
        self._grid = grid
        self._starts = np.concatenate(([0], np.flatnonzero(built[1:] != built[:-1]) + 1))
        self._ends = np.append(self._starts[1:], len(counts))
        self._most = np.maximum.reduceat(counts, self._starts)

    @property
    def count(self) -> int:
        return len(self._starts)

    def gaps(self) -> "np.typing.NDArray[np.intp]":
        """Which runs cannot be built, those of most points first."""
        missing = np.flatnonzero(self._most == 0)
        lengths = self._ends[missing] - self._starts[missing]
        # Stable, so that of gaps equally wide the shorter lengths come first.
        return missing[np.argsort(-lengths, kind="stable")]

    def run(self, place: int) -> Run:
        start, end = int(self._starts[place]), int(self._ends[place])
        most = int(self._most[place])
        points = self._grid.points
        return Run(
            first=points[start],
            last=points[end - 1],
            length_count=end - start,
            buildable=most > 0,
            max_blocks_needed=most,
        )
