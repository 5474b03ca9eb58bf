"""A survey of coverage as a person reads it."""

from collections.abc import Iterator
from typing import Final

from wrung_service.api.coverage.answer import BlockAddition, CoverageAnswer
from wrung_service.commands.language import Spoken

_MOST: Final = 10
"""Of gaps and of blocks that matter most; the JSON has all."""


def coverage_lines(answer: CoverageAnswer, spoken: Spoken) -> Iterator[str]:
    """How much is covered, the gaps, what matters most, and what would help most."""
    asked, say = answer.range, spoken.say
    span = {
        "lengths": _counted(asked.length_count, spoken),
        "start": spoken.number(asked.start),
        "stop": spoken.length(asked.stop),
    }
    if answer.buildable is None:
        yield say("printed.not_covered", **span)
        return
    found, step = answer.buildable, spoken.length(asked.step)
    yield say("printed.covered", built=found.length_count, step=step, **span)
    shown = found.gaps[:_MOST]
    for gap in shown:
        lengths = _counted(gap.length_count, spoken)
        between = _from_to(gap.first, gap.last, spoken)
        yield "  " + say("printed.gap", lengths=lengths, span=between)
    if more := found.gap_count - len(shown):
        yield "  " + say("printed.more_gaps", count=more)
    yield from _losses(answer, spoken)
    yield from _additions(answer, spoken)
    for block in answer.overdue_blocks:
        yield say("printed.left_out", day=str(block.due_on), block=block.id)


def _counted(number: int, spoken: Spoken) -> str:
    if number == 1:
        return spoken.say("printed.one_length")
    return spoken.say("printed.length_count", count=number)


def _losses(answer: CoverageAnswer, spoken: Spoken) -> Iterator[str]:
    for loss in (answer.losses or ())[:_MOST]:
        if loss.lengths_lost:
            lengths = _counted(loss.lengths_lost, spoken)
            yield "  " + spoken.say("printed.without", block=loss.id, lengths=lengths)


def _additions(answer: CoverageAnswer, spoken: Spoken) -> Iterator[str]:
    if answer.additions is None:
        return
    pair = answer.additions.best_pair
    for addition in (*answer.additions.single_blocks[:_MOST], *([pair] if pair else ())):
        lengths = _counted(addition.lengths_gained, spoken)
        blocks = _blocks(addition, spoken)
        yield "  " + spoken.say("printed.with", blocks=blocks, lengths=lengths)


def _blocks(addition: BlockAddition, spoken: Spoken) -> str:
    return " + ".join(f"{spoken.number(each.nominal)} {each.unit}" for each in addition.blocks)


def _from_to(first: str, last: str, spoken: Spoken) -> str:
    if first == last:
        return spoken.length(first)
    begin = spoken.number(first)
    return spoken.say("printed.from_to", first=begin, last=spoken.length(last))
