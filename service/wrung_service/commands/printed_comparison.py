"""Two sets side by side, as a person reads it."""

from collections.abc import Iterator
from typing import Final

from msgspec import Struct

from wrung.coverage import Coverage, CoverageComparison, Reach
from wrung.lengths import to_text
from wrung_service.commands.language import Spoken

_MOST: Final = 10
"""Of the stretches that only one of them builds."""


class ComparedSets(Struct, frozen=True, kw_only=True):
    """Two surveys of one grid, by the names of their sets, and what they come to."""

    names: tuple[str, str]
    surveys: tuple[Coverage, Coverage]
    compared: CoverageComparison


def comparison_lines(shown: ComparedSets, spoken: Spoken) -> Iterator[str]:
    """How much each builds, with how many blocks, and what only one of them builds."""
    found, (first, second), say = shown.compared, shown.names, spoken.say
    start, stop, step = (
        _number(each, spoken) for each in (found.grid.start, found.grid.points[-1], found.grid.step)
    )
    count = len(found.grid.points)
    stop = f"{stop} {spoken.unit}"
    yield say("printed.lengths", count=count, start=start, stop=stop, step=step)
    one, other = (survey.reach for survey in shown.surveys)
    if one is not None and other is not None:
        yield from _table((first, second), (one, other), spoken)
    yield say("printed.both_build", both=found.both, neither=found.neither)
    equal = found.both - found.fewer_with_first - found.fewer_with_second
    yield say("printed.fewer_first", name=first, count=found.fewer_with_first)
    yield "  " + say("printed.fewer_second", name=second, count=found.fewer_with_second)
    yield "  " + say("printed.as_many", count=equal)
    yield from _only(first, found.only_first, spoken)
    yield from _only(second, found.only_second, spoken)


def _number(length: int, spoken: Spoken) -> str:
    return spoken.number(to_text(length, spoken.unit))


def _table(names: tuple[str, str], found: tuple[Reach, Reach], spoken: Spoken) -> Iterator[str]:
    width = max(12, *(len(name) + 2 for name in names))
    by_count = [{each.block_count: each.length_count for each in one.histogram} for one in found]
    yield f"{'':12}" + "".join(f"{name:>{width}}" for name in names)
    can = spoken.say("printed.can_be_built")
    yield f"{can:12}" + "".join(f"{one.buildable_count:>{width}}" for one in found)
    for blocks in sorted({*by_count[0], *by_count[1]}):
        key = "printed.one_block" if blocks == 1 else "printed.blocks"
        said = f"  {spoken.say(key, count=blocks)}"
        yield f"{said:12}" + "".join(f"{one.get(blocks, 0):>{width}}" for one in by_count)


def _only(name: str, found: Reach, spoken: Spoken) -> Iterator[str]:
    yield spoken.say("printed.only", name=name, count=found.buildable_count)
    runs = [run for run in found.runs if run.buildable]
    for run in runs[:_MOST]:
        first, last = _number(run.first, spoken), _number(run.last, spoken)
        span = first if first == last else spoken.say("printed.from_to", first=first, last=last)
        yield f"  {span} {spoken.unit} ({run.length_count})"
    if found.buildable_count > sum(run.length_count for run in runs[:_MOST]):
        yield "  " + spoken.say("printed.more_beyond")
