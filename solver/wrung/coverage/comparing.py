"""What one inventory builds against another, on one grid of lengths."""

from typing import Final

import numpy as np

from wrung.checked_types import typed
from wrung.coverage.answer import Coverage, CoverageComparison, Reach
from wrung.coverage.places import Fewest, reach
from wrung.errors import InputError

_MOST_RUNS: Final = 1000


@typed
def compare_coverage(first: Coverage, second: Coverage) -> CoverageComparison:
    """Compare what two inventories were found to build.

    The runs of ``only_first`` and ``only_second`` that can be built are the lengths in question;
    their ``fewest`` is 0 everywhere else.

    Raises:
        InputError: at ``/range``, the grids are not the same; at ``/first`` or ``/second``, its
            time ended before anything was known of it.
    """
    if first.grid != second.grid:
        raise InputError.at("/range", "is not the same for both")
    one, other = _fewest(first, "/first"), _fewest(second, "/second")
    built = (one > 0) & (other > 0)
    return CoverageComparison(
        grid=first.grid,
        both=int(np.count_nonzero(built)),
        neither=int(np.count_nonzero((one == 0) & (other == 0))),
        fewer_with_first=int(np.count_nonzero(built & (one < other))),
        fewer_with_second=int(np.count_nonzero(built & (other < one))),
        only_first=_only(first, one, other),
        only_second=_only(second, other, one),
    )


def _fewest(found: Coverage, pointer: str) -> Fewest:
    if found.reach is None:
        raise InputError.at(pointer, "was not surveyed before its time ended")
    return np.frombuffer(found.reach.fewest, dtype=np.uint8)


def _only(found: Coverage, own: Fewest, other: Fewest) -> Reach:
    counts = np.where(other == 0, own, 0).astype(np.uint8)
    return reach(found.grid, counts, found.max_blocks, max_runs=_MOST_RUNS, max_gaps=0)
