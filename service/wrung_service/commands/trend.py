"""``wrung trend``: how blocks changed from certificate to certificate."""

from collections.abc import Iterator, Sequence
from typing import BinaryIO

import click

from wrung.blocks import Block
from wrung.lengths import SMALL_UNIT, Unit
from wrung.metrology.drift import Drift, calibrations_of, drift_of, limits_of
from wrung.rounding import read_bound, read_length
from wrung.texts import SIGNS
from wrung_service.commands.asking import refuse
from wrung_service.commands.convert import read_file
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
def trend(certificates: Sequence[BinaryIO], *, unit: Unit) -> None:
    """Tell what each block of several CERTIFICATES drifts a year, and when it is due.

    Blocks are told apart by their ids. The certificates are read as `wrung convert` reads them. The
    suggested last day is never later than the one that the newest certificate states.
    """
    found: dict[str, list[Block]] = {}
    for certificate in certificates:
        for block in read_file(certificate, None, unit).blocks:
            found.setdefault(block.id, []).append(block)
    for name, blocks in found.items():
        if len({block.nominal for block in blocks}) > 1:
            refuse([f"{name} has another nominal length in another certificate."])
    click.echo("\n".join(line for blocks in found.values() for line in _lines(blocks)))


def _lines(blocks: Sequence[Block]) -> Iterator[str]:
    points = calibrations_of(blocks)
    newest = max(blocks, key=_day)
    drift = drift_of(points, limits_of(newest))
    if drift is None:
        yield f"{newest.id}: no drift: that takes two certificates with different dates"
        return
    yield f"{newest.id}: {drift.calibrations} calibrations, {drift.first} to {drift.last}"
    yield f"  {_said(drift, newest.unit)}"
    yield f"  last day of use: {drift.due_on} ({_why(drift, newest)})"


def _why(drift: Drift, newest: Block) -> str:
    if drift.by_limits and drift.due_on == drift.last:
        return "it may be outside its limits already"
    if drift.by_limits:
        return "after that it may be outside its limits"
    stated = newest.calibration is not None and newest.calibration.due_on is not None
    return "as its certificate says" if stated else "after as long as between the last two"


def _day(block: Block) -> str:
    on = block.calibration.calibrated_on if block.calibration else None
    return on.isoformat() if on else ""


def _said(drift: Drift, unit: Unit) -> str:
    small = SMALL_UNIT[unit]
    change, within = read_length(drift.a_year, small), read_bound(drift.expanded_uncertainty, small)
    scatter = "" if drift.scatter is None else f", scatter {drift.scatter:.2f}"
    told = "" if drift.told_from_none else "; cannot be told from no change"
    return f"{change} {SIGNS[small]} a year, ± {within} {SIGNS[small]} (k = 2{scatter}){told}"
