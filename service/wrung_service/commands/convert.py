"""``wrung convert``: a certificate as the blocks of a request."""

from datetime import datetime
from pathlib import Path
from typing import BinaryIO, Final

import click

from wrung.lengths import Unit
from wrung.metrology import CertificateImport, Remark, read_certificate
from wrung.metrology.certificates import Format
from wrung_service.api.certificates.answer import write_import, write_remarks
from wrung_service.commands.asking import print_json, refuse
from wrung_service.commands.language import Spoken, language_option
from wrung_service.commands.status import after_help

_BY_SUFFIX: Final[dict[str, Format]] = {".csv": "csv", ".json": "json", ".xml": "dcc"}


@click.command(
    epilog=after_help(
        "wrung convert certificate.csv",
        "wrung convert --unit in --due-on 2027-03-31 certificate.xml > blocks.json",
    )
)
@click.argument("certificate", type=click.File("rb"))
@click.option(
    "--format",
    "document",
    type=click.Choice(tuple(_BY_SUFFIX.values())),
    help="What it is written in; by the ending of its name if left out: .csv, .json, .xml (dcc).",
)
@click.option(
    "--unit",
    type=click.Choice(("mm", "in")),
    default="mm",
    show_default=True,
    help="Unit of lengths where the document names none.",
)
@click.option(
    "--due-on",
    type=click.DateTime(("%Y-%m-%d",)),
    help="Due date for blocks for which the document states none.",
)
@language_option
def convert(
    certificate: BinaryIO,
    *,
    document: Format | None,
    unit: Unit,
    due_on: datetime | None,
    language: str,
) -> None:
    """Read a calibration CERTIFICATE and print its blocks as JSON, as requests take them.

    CSV, JSON, or a Digital Calibration Certificate (XML). It is read as a whole or not at all;
    remarks go to standard error.
    """
    found = read_file(certificate, document, unit, language, due_on)
    for remark in write_remarks((*found.remarks, *found.ignored), language):
        click.echo(f"wrung: {remark.location} {remark.text}".rstrip("."), err=True)
    print_json(write_import(found))


def read_file(
    certificate: BinaryIO,
    document: Format | None,
    unit: Unit,
    language: str,
    due_on: datetime | None = None,
) -> CertificateImport:
    """A certificate as it was read; ends the command with the reasons if it is refused.

    Args:
        certificate: the file.
        document: what it is written in; by the ending of its name if None.
        unit: of lengths where it names none.
        language: of the reasons.
        due_on: the day that blocks are due on for which it states none.
    """
    found = read_certificate(
        certificate.read(),
        document or _format_of(certificate.name),
        unit=unit,
        due_on=due_on.date() if due_on else None,
    )
    if found.refused:
        spoken = Spoken(language=language)
        refuse([spoken.refusal(_said(remark)) for remark in found.refused])
    return found


def _format_of(name: str) -> Format:
    found = _BY_SUFFIX.get(Path(name).suffix.casefold())
    if found is None:
        raise click.UsageError(f"{name} does not end in .csv, .json or .xml; say --format.")
    return found


def _said(remark: Remark) -> str:
    return f"{remark.location} {remark.text}".rstrip(".")
