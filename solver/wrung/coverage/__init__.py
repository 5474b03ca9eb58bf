"""Coverage: which lengths of a grid an inventory can build, and what would add to them.

`wrung.coverage_of` does the work, in `surveying`; `picture.draw` makes an SVG drawing of what it
finds. Each grid point is asked for by itself, with every block free; `wrung.compare_coverage` sets
two inventories side by side. `Surveyed` says how much of the grid was looked at before the time was
up.
"""

from wrung.coverage.answer import (
    Addition,
    Additions,
    Coverage,
    CoverageComparison,
    LengthGrid,
    Loss,
    NeededBlocks,
    Reach,
    Run,
    Surveyed,
)

__all__ = [
    "Addition",
    "Additions",
    "Coverage",
    "CoverageComparison",
    "LengthGrid",
    "Loss",
    "NeededBlocks",
    "Reach",
    "Run",
    "Surveyed",
]
