"""What is due for calibration, as a list and as a calendar."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, Annotated, Final

from msgspec import Meta, Struct

from wrung_service.store.blocks import NEVER_DUE, KeptBlock

if TYPE_CHECKING:
    from icalendar import Event

_TEXTS: Final = {
    "en": ("Calibration due", "{} gauge blocks", "1 gauge block", "certificate {}"),
    "de": ("Kalibrierung fällig", "{} Endmaße", "1 Endmaß", "Schein {}"),
}


class DueBlocks(Struct, frozen=True, kw_only=True):
    """Blocks that are due together."""

    due_on: Annotated[date, Meta(description="Last day of use before the next calibration.")]
    overdue: Annotated[bool, Meta(description="Whether that day is over, at the site.")]
    set: Annotated[str | None, Meta(description="Their set.")]
    certificate: Annotated[str | None, Meta(description="Number of their certificate.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Their ids.")]


class DueList(Struct, frozen=True, kw_only=True):
    """What is due for calibration."""

    due: Annotated[tuple[DueBlocks, ...], Meta(description="The earliest first.")]


def due_list(held: Sequence[KeptBlock], today: date) -> DueList:
    """The blocks by due date, set and certificate."""
    found: dict[tuple[date, str, str], list[str]] = {}
    for each in held:
        known = each.block.calibration
        if known is None or known.due_on is None or each.condition in NEVER_DUE:
            continue
        key = (known.due_on, each.block.set or "", known.certificate or "")
        found.setdefault(key, []).append(each.block.id)
    return DueList(
        due=tuple(
            DueBlocks(
                due_on=day,
                overdue=day < today,
                set=of_set or None,
                certificate=certificate or None,
                blocks=tuple(names),
            )
            for (day, of_set, certificate), names in sorted(found.items())
        )
    )


def as_calendar(due: DueList, site: str, now: datetime, language: str) -> bytes:
    """The list as a calendar; a client knows events again by their ids."""
    # Only here: it takes a while to load, and a start should not wait for it.
    from icalendar import Calendar, Timezone  # noqa: PLC0415

    events = [_event(each, site, now, language) for each in due.due]
    calendar = Calendar.new(
        prodid="-//wrung//crib//EN",
        # Else a new one each time, and a client could not tell what it has.
        uid=_uid(site),
        name=f"{_TEXTS[language][0]}: {site}",
        # A calendar without any component is none (RFC 5545, 3.6).
        subcomponents=events or [Timezone.from_tzid("UTC")],
    )
    return bytes(calendar.to_ical())


def _event(due: DueBlocks, site: str, now: datetime, language: str) -> "Event":
    from icalendar import TRANSP, Event  # noqa: PLC0415 - see above

    title, many, one, certificate = _TEXTS[language]
    count = one if len(due.blocks) == 1 else many.format(len(due.blocks))
    about = [due.set, count, certificate.format(due.certificate) if due.certificate else None]
    identity = f"{site} {due.set} {due.certificate} {due.due_on}"
    return Event.new(
        uid=_uid(identity),
        stamp=now,
        start=due.due_on,
        end=due.due_on + timedelta(days=1),
        summary=f"{title}: {', '.join(each for each in about if each)}",
        description="\n".join(due.blocks),
        transparency=TRANSP.TRANSPARENT,
    )


def _uid(identity: str) -> str:
    return f"{sha256(identity.encode()).hexdigest()[:32]}@wrung"
