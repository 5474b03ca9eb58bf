"""Every block of a shelf in the crib, and why some of them cannot be had now."""

from collections.abc import Collection, Mapping
from datetime import date, datetime, timedelta
from typing import Final, Literal, TypeAlias
from zoneinfo import ZoneInfo

from msgspec import Struct

from wrung.blocks import Block
from wrung_service.store.blocks import BlockFilter, Condition, KeptBlock, list_blocks
from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.shelves import holds
from wrung_service.store.sites import get_site

Absence: TypeAlias = Condition | Literal["out", "promised", "overdue"]
"""Its condition, if it is not fit for use; it is out, others have it now, or its calibration is
overdue."""
_MOST: Final = 10_000
_A_MOMENT: Final = timedelta(seconds=1)


class WholeShelf(Struct, frozen=True, kw_only=True):
    """All blocks but retired ones, and by id why some of them cannot be had."""

    blocks: tuple[Block, ...]
    absent: Mapping[str, Absence]


def whole_shelf_of(store: Store, site: str, sets: Collection[str], now: datetime) -> WholeShelf:
    """The shelf of these sets, or of the whole site, as if everything lay there.

    Raises:
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        zone = ZoneInfo(get_site(connection, site).time_zone)
        held = list_blocks(connection, site, BlockFilter(), Place(limit=_MOST)).items
        promised = {each.block for each in holds(connection, site, now, now + _A_MOMENT, now)}
    today = now.astimezone(zone).date()
    shelf = [e for e in held if e.condition != "retired" and (not sets or e.block.set in sets)]
    absent: dict[str, Absence] = {}
    for each in shelf:
        if (why := _absence(each, promised, today)) is not None:
            absent[each.block.id] = why
    return WholeShelf(blocks=tuple(each.block for each in shelf), absent=absent)


def _absence(held: KeptBlock, promised: Collection[str], today: date) -> Absence | None:
    if held.condition != "fit":
        return held.condition
    if held.out is not None:
        return "out"
    if held.block.id in promised:
        return "promised"
    due_on = held.block.calibration and held.block.calibration.due_on
    return "overdue" if due_on and due_on < today else None
