"""A survey of coverage as a person reads it."""

from collections.abc import Iterator
from typing import Final

from wrung_service.api.coverage.answer import BlockAddition, CoverageAnswer

_MOST: Final = 10
"""Of gaps and of blocks that matter most; the JSON has all."""


def coverage_lines(answer: CoverageAnswer) -> Iterator[str]:
    """How much is covered, the gaps, what matters most, and what would help most."""
    asked, unit = answer.range, answer.unit
    span = f"{_counted(asked.length_count, 'length')} from {asked.start} to {asked.stop} {unit}"
    if answer.buildable is None:
        yield f"The time limit ended before anything was known of {span}."
        return
    found = answer.buildable
    yield f"{found.length_count} of {span} in steps of {asked.step} can be built."
    shown = found.gaps[:_MOST]
    for gap in shown:
        yield f"  gap of {gap.length_count}: {_from_to(gap.first, gap.last)} {unit}"
    if more := found.gap_count - len(shown):
        yield f"  and {_counted(more, 'more gap')}"
    yield from _losses(answer)
    yield from _additions(answer)
    for block in answer.overdue_blocks:
        yield f"Left out, due for calibration on {block.due_on}: {block.id}"


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _losses(answer: CoverageAnswer) -> Iterator[str]:
    for loss in (answer.losses or ())[:_MOST]:
        if loss.lengths_lost:
            yield f"  without {loss.id}: {_counted(loss.lengths_lost, 'length')} fewer"


def _additions(answer: CoverageAnswer) -> Iterator[str]:
    if answer.additions is None:
        return
    for addition in answer.additions.single_blocks[:_MOST]:
        yield f"  with {_blocks(addition)}: {_counted(addition.lengths_gained, 'length')} more"
    if (pair := answer.additions.best_pair) is not None:
        yield f"  with {_blocks(pair)}: {_counted(pair.lengths_gained, 'length')} more"


def _blocks(addition: BlockAddition) -> str:
    return " and ".join(f"{each.nominal} {each.unit}" for each in addition.blocks)


def _from_to(first: str, last: str) -> str:
    return first if first == last else f"{first} to {last}"
