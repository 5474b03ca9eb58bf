"""Two sets side by side, as a person reads it."""

from collections.abc import Iterator
from typing import Final

from msgspec import Struct

from wrung.coverage import Coverage, CoverageComparison, Reach
from wrung.lengths import Unit, to_text

_MOST: Final = 10
"""Of the stretches that only one of them builds."""


class ComparedSets(Struct, frozen=True, kw_only=True):
    """Two surveys of one grid, by the names of their sets, and what they come to."""

    names: tuple[str, str]
    unit: Unit
    surveys: tuple[Coverage, Coverage]
    compared: CoverageComparison


def comparison_lines(shown: ComparedSets) -> Iterator[str]:
    """How much each builds, with how many blocks, and what only one of them builds."""
    found, unit, (first, second) = shown.compared, shown.unit, shown.names
    grid = found.grid
    start, stop, step = (to_text(each, unit) for each in (grid.start, grid.points[-1], grid.step))
    yield f"{len(grid.points)} lengths from {start} to {stop} {unit} in steps of {step}"
    one, other = (survey.reach for survey in shown.surveys)
    if one is not None and other is not None:
        yield from _table((first, second), (one, other))
    yield f"Both build {found.both}, neither builds {found.neither}."
    equal = found.both - found.fewer_with_first - found.fewer_with_second
    yield f"Of these, fewer blocks with {first}: {found.fewer_with_first}"
    yield f"          fewer blocks with {second}: {found.fewer_with_second}"
    yield f"          as many: {equal}"
    yield from _only(first, found.only_first, unit)
    yield from _only(second, found.only_second, unit)


def _table(names: tuple[str, str], found: tuple[Reach, Reach]) -> Iterator[str]:
    width = max(12, *(len(name) + 2 for name in names))
    by_count = [{each.block_count: each.length_count for each in one.histogram} for one in found]
    yield f"{'':12}" + "".join(f"{name:>{width}}" for name in names)
    yield f"{'can be built':12}" + "".join(f"{one.buildable_count:>{width}}" for one in found)
    for blocks in sorted({*by_count[0], *by_count[1]}):
        said = f"  {blocks} block{'s' if blocks > 1 else ''}"
        yield f"{said:12}" + "".join(f"{one.get(blocks, 0):>{width}}" for one in by_count)


def _only(name: str, found: Reach, unit: Unit) -> Iterator[str]:
    yield f"Only {name} builds {found.buildable_count}."
    runs = [run for run in found.runs if run.buildable]
    for run in runs[:_MOST]:
        first, last = to_text(run.first, unit), to_text(run.last, unit)
        yield f"  {first if first == last else f'{first} to {last}'} {unit} ({run.length_count})"
    if found.buildable_count > sum(run.length_count for run in runs[:_MOST]):
        yield "  and more beyond these"
