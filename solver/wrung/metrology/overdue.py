"""Blocks that were due for calibration before they are used."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from msgspec import Struct

from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.targets.requirement import Requirement


class Overdue(Struct, frozen=True, kw_only=True):
    """A block and the day by which it was due for calibration."""

    id: str
    due_on: date
    serial: str | None = None


class Due(Struct, frozen=True, kw_only=True):
    """A shelf by whether its blocks may be used.

    Attributes:
        used_on: the day that was asked about.
        usable: blocks that are not overdue on that day, or all of them where those are allowed.
        left_out: blocks that are overdue and not used.
        allowed: blocks that are overdue and may be used all the same.
    """

    used_on: date
    usable: tuple[Block, ...]
    left_out: tuple[Overdue, ...] = ()
    allowed: tuple[Overdue, ...] = ()


@typed
def sort_by_due(blocks: Sequence[Block], used_on: date, *, allow_overdue: bool = False) -> Due:
    """Leave out the blocks that are overdue on the day of use, unless they are allowed.

    A block may be used on its due date itself. A block without due date is never overdue.
    """
    overdue = overdue_blocks(blocks, used_on)
    if allow_overdue:
        return Due(used_on=used_on, usable=tuple(blocks), allowed=overdue)
    ids = {each.id for each in overdue}
    usable = tuple(block for block in blocks if block.id not in ids)
    return Due(used_on=used_on, usable=usable, left_out=overdue)


@typed
def day_of_use(requirements: Iterable[Requirement], now: datetime) -> date:
    """The last day on which any of the stacks is needed; that of ``now`` if that is later.

    The last, so that no block runs out while a stack stands. Each time counts by its own clock.
    """
    # Without an end only the start is known.
    times = (r.needed_until or r.needed_from for r in requirements)
    return max([now, *(time for time in times if time is not None)]).date()


def overdue_blocks(blocks: Iterable[Block], on: date) -> tuple[Overdue, ...]:
    """The blocks that are overdue on that day."""
    due_dates = ((block, block.known_calibration.due_on) for block in blocks)
    return tuple(
        Overdue(id=block.id, due_on=due, serial=block.serial)
        for block, due in due_dates
        if due and due < on
    )
