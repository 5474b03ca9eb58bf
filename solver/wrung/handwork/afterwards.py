"""From a wrung stack to its use, and back into the case."""

from collections.abc import Iterator

from wrung.blocks import LONG
from wrung.handwork.caliper import caliper_reading
from wrung.handwork.care import put_back
from wrung.handwork.materials import rusts
from wrung.handwork.soaking import soaking_minutes
from wrung.handwork.step import Step, of_blocks, step
from wrung.handwork.work import Work
from wrung.measures import Measure
from wrung.texts import figure


def afterwards(work: Work) -> Iterator[Step]:
    """What comes after the wringing."""
    yield from _checked(work)
    # Those that follow are made of blocks that have the temperature already.
    if work.change is None:
        yield from _soaked(work)
    yield from (Step(phase="use", said=said) for said in work.uses)
    if work.series.goes_on:
        yield step("unwring", "step.next")
        return
    yield from put_back(wrung=len(work.stack.blocks) > 1)
    yield from _preserved(work)


def _checked(work: Work) -> Iterator[Step]:
    """Far too coarse to measure a stack, but it shows at once that a wrong block was taken."""
    rough = caliper_reading(work.stack, work.unit)
    if rough is not None:
        reading = figure("reading", rough.reading, Measure.LENGTH)
        yield step("check", "step.caliper", reading, figure("give", rough.give, Measure.LENGTH))


def _soaked(work: Work) -> Iterator[Step]:
    """It takes the temperature that the figures are for, which need not be that of the work."""
    minutes = figure("minutes", soaking_minutes(work.known(work.stack.blocks)))
    wrung = len(work.stack.blocks) > 1
    if work.apart is None:
        if wrung:
            yield step("soak", "step.soak", minutes)
        return
    if wrung:
        yield step("soak", "step.soak_apart", minutes, work.apart.of_stack)
    yield step("soak", "step.measure_both", work.apart.of_stack, work.apart.of_work)


def _preserved(work: Work) -> Iterator[Step]:
    steel = {block.id for block in work.known(work.series.blocks) if rusts(block)}
    oiled = [block for block in work.series.blocks if block.id in steel]
    dry = [block for block in work.series.blocks if block.id not in steel]
    if oiled:
        yield of_blocks("preserve", "step.preserve", oiled)
    if dry:
        yield of_blocks("preserve", "step.keep_dry", dry)
    yield step("put_away", "step.put_away")
    if any(block.nominal > LONG for block in work.series.blocks):
        yield step("put_away", "step.store_long")
