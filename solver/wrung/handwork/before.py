"""From the case to clean blocks at the temperature that they are used at."""

from collections.abc import Iterator

from wrung.blocks import LONG
from wrung.handwork.care import prepared
from wrung.handwork.changes import Changes
from wrung.handwork.materials import any_brittle, rusts
from wrung.handwork.soaking import normalising_minutes
from wrung.handwork.step import Step, of_blocks, step
from wrung.handwork.work import Work
from wrung.measures import Measure
from wrung.texts import figure


def before(work: Work) -> Iterator[Step]:
    """What comes before the wringing."""
    change = work.change
    if change is None:
        yield from _from_the_case(work)
    elif change.none:
        yield of_blocks("fetch", "step.same", change.kept)
    else:
        yield from _from_the_stack_before(work, change)


def _from_the_case(work: Work) -> Iterator[Step]:
    """All blocks of a series come out together, so that they wait for their temperature once."""
    blocks = work.series.blocks
    several = len(blocks) > len(work.stack.blocks)
    yield of_blocks("fetch", "step.take_series" if several else "step.take", blocks)
    yield _compared(work)
    known = work.known(blocks)
    minutes = figure("minutes", normalising_minutes(known))
    if work.apart is None:
        yield step("normalise", "step.normalise", minutes)
    else:
        yield step("normalise", "step.normalise_apart", minutes, work.apart.of_stack)
    if any(block.nominal > LONG for block in blocks):
        yield step("normalise", "step.normalise_long")
    yield from prepared(steel=any(map(rusts, known)), brittle=any_brittle(known))


def _from_the_stack_before(work: Work, change: Changes) -> Iterator[Step]:
    if change.removed:
        yield of_blocks("fetch", "step.take_off", change.removed)
    for run in change.runs:
        yield of_blocks("fetch", "step.keep", run)
    if change.added:
        yield of_blocks("fetch", "step.add", change.added)
    yield _compared(work)
    if change.wringings:
        yield step("clean", "step.wipe")
        yield step("clean", "step.brush")


def _compared(work: Work) -> Step:
    nominal = figure("nominal", work.stack.nominal, Measure.LENGTH, "stated")
    return step("fetch", "step.compare", nominal)
