"""Certificates of calibration: read as a whole or not at all, with an account of what was read.

`Format` is what a certificate is written in. `COLUMNS` are the columns of the CSV form and the
members of the JSON form; `SHARED` are those that may stand once for all blocks.
"""

from datetime import date
from typing import Final

from msgspec.structs import replace

from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.lengths import Unit
from wrung.metrology.certificates.applying import apply_certificates
from wrung.metrology.certificates.csv_form import read_csv
from wrung.metrology.certificates.dcc import read_dcc
from wrung.metrology.certificates.json_form import SHARED, read_json
from wrung.metrology.certificates.report import NO_DUE_DATE, CertificateImport, Format, Remark
from wrung.metrology.certificates.stated import COLUMNS

__all__ = [
    "COLUMNS",
    "SHARED",
    "CertificateImport",
    "Format",
    "Remark",
    "apply_certificates",
    "read_certificate",
    "read_csv",
    "read_dcc",
    "read_json",
]

_READERS: Final = {"json": read_json, "csv": read_csv, "dcc": read_dcc}


@typed
def read_certificate(
    data: bytes, document: Format, *, unit: Unit = "mm", due_on: date | None = None
) -> CertificateImport:
    """Read certified blocks; what is wrong with the document is in the import, never an exception.

    Args:
        data: the document.
        document: its format.
        unit: unit of lengths where the document names none; of a DCC, in which blocks are marked.
        due_on: due date of blocks for which the document states none.
    """
    found = _READERS[document](data, unit=unit)
    if due_on is None:
        return found
    return replace(
        found,
        blocks=tuple(_due(block, due_on) for block in found.blocks),
        remarks=tuple(remark for remark in found.remarks if remark != NO_DUE_DATE),
    )


def _due(block: Block, due_on: date) -> Block:
    calibration = block.known_calibration
    if calibration.due_on is not None:
        return block
    return replace(block, calibration=replace(calibration, due_on=due_on))
