"""From the least number of blocks of every point to counts, runs and gaps."""

import numpy as np

from wrung.coverage.answer import LengthGrid, NeededBlocks, Reach, Run
from wrung.coverage.places import Fewest


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
