"""Overdue blocks on the wire."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.metrology import Overdue


class OverdueBlock(Struct, frozen=True, kw_only=True):
    """A block that was due for calibration before the day of use."""

    id: Annotated[str, Meta(description="The block.")]
    due_on: Annotated[date, Meta(description="The day by which it was due.")]
    serial: (
        Annotated[str, Meta(description="Its serial number, where the request gives one.")]
        | UnsetType
    ) = UNSET


def write_overdue(overdue: Iterable[Overdue]) -> tuple[OverdueBlock, ...]:
    """Overdue blocks as they stand on the wire."""
    return tuple(
        OverdueBlock(id=each.id, due_on=each.due_on, serial=each.serial or UNSET)
        for each in overdue
    )
