"""``wrung trend``: how blocks changed from certificate to certificate."""

from collections.abc import Iterator, Sequence
from typing import BinaryIO

import click

from wrung.blocks import Block
from wrung.lengths import SMALL_UNIT, UNIT_SIGNS, Unit
from wrung.metrology.drift import Drift, calibrations_of, drift_of, known_limits
from wrung.rounding import read_bound, read_length
from wrung_service.commands.asking import refuse
from wrung_service.commands.convert import read_file
from wrung_service.commands.language import Spoken, language_option
from wrung_service.commands.status import after_help


@click.command(
    epilog=after_help(
        "wrung trend k1-2024.csv k1-2025.csv k1-2026.xml",
        "wrung trend --unit in 2025.csv 2026.csv",
    )
)
@click.argument("certificates", type=click.File("rb"), nargs=-1, required=True)
@click.option(
    "--unit",
    type=click.Choice(("mm", "in")),
    default="mm",
    show_default=True,
    help="Unit of lengths where a document names none.",
)
@language_option
def trend(certificates: Sequence[BinaryIO], *, unit: Unit, language: str) -> None:
    """Tell what each block of several CERTIFICATES drifts a year, and when it is due.

    Blocks are told apart by their ids. The certificates are read as `wrung convert` reads them. The
    suggested last day is never later than the one that the newest certificate states.
    """
    found: dict[str, list[Block]] = {}
    for certificate in certificates:
        for block in read_file(certificate, None, unit, language).blocks:
            found.setdefault(block.id, []).append(block)
    for name, blocks in found.items():
        if len({block.nominal for block in blocks}) > 1:
            refuse([Spoken(language=language).say("printed.other_nominal", block=name)])
    click.echo("\n".join(line for blocks in found.values() for line in _lines(blocks, language)))


def _lines(blocks: Sequence[Block], language: str) -> Iterator[str]:
    points = calibrations_of(blocks)
    newest = max(blocks, key=_day)
    spoken = Spoken(language=language, unit=newest.unit)
    drift = drift_of(points, known_limits(newest))
    if drift is None:
        yield spoken.say("printed.no_drift", block=newest.id)
        return
    first, last = drift.first.isoformat(), drift.last.isoformat()
    count = drift.calibrations
    yield spoken.say("printed.calibrations", block=newest.id, count=count, first=first, last=last)
    yield f"  {_said(drift, spoken)}"
    why = spoken.say(_why(drift, newest))
    yield "  " + spoken.say("printed.last_day", day=str(drift.due_on), why=why)


def _why(drift: Drift, newest: Block) -> str:
    if drift.by_limits and drift.due_on == drift.last:
        return "printed.outside_already"
    if drift.by_limits:
        return "printed.outside_later"
    stated = newest.calibration is not None and newest.calibration.due_on is not None
    return "printed.as_stated" if stated else "printed.as_long"


def _day(block: Block) -> str:
    on = block.calibration.calibrated_on if block.calibration else None
    return on.isoformat() if on else ""


def _said(drift: Drift, spoken: Spoken) -> str:
    small = SMALL_UNIT[spoken.unit]
    change, within = (
        f"{spoken.number(text)} {UNIT_SIGNS[small]}"
        for text in (
            read_length(drift.a_year, small), read_bound(drift.expanded_uncertainty, small)
        )
    )  # fmt: skip
    scatter = ""
    if drift.scatter is not None:
        scatter = spoken.say("printed.scatter", scatter=spoken.number(f"{drift.scatter:.2f}"))
    told = "" if drift.told_from_none else spoken.say("printed.no_change")
    return spoken.say("printed.drift", change=change, within=within, more=scatter, told=told)
