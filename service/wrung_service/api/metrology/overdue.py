"""Overdue blocks on the wire."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated

from msgspec import Meta, Struct

from wrung.metrology import Overdue


class OverdueBlock(Struct, frozen=True, kw_only=True):
    """A block that was due for calibration before the day of use."""

    id: Annotated[str, Meta(description="The block.")]
    due_on: Annotated[date, Meta(description="The day by which it was due.")]


def write_overdue(overdue: Iterable[Overdue]) -> tuple[OverdueBlock, ...]:
    """Overdue blocks as they stand on the wire."""
    return tuple(OverdueBlock(id=each.id, due_on=each.due_on) for each in overdue)
