"""Digital Calibration Certificates (DCC) of the PTB, schema 2.4 and 3.x.

It reads tables of results that have a nominal length and a deviation from it, or a measured
length, with its uncertainty; ``data/dcc_columns.toml`` says how columns are recognised. A block's
id is what the table states, or the identification of the item that the table refers to, or that of
the only item and the nominal length, such as ``K1/1.005``. The XML schema itself is not checked,
nor is a signature.
"""

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Final

from msgspec.structs import replace

from wrung.checked_types import typed
from wrung.lengths import Unit
from wrung.metrology.certificates.assembling import assemble
from wrung.metrology.certificates.dcc_head import DccHead, read_head
from wrung.metrology.certificates.dcc_rows import rows
from wrung.metrology.certificates.dcc_tables import DCC, DccTable, tables
from wrung.metrology.certificates.limits import MOST_BLOCKS
from wrung.metrology.certificates.report import (
    NO_DUE_DATE,
    CertificateImport,
    Remark,
    UnreadableError,
    few,
    refusing,
)
from wrung.metrology.certificates.safe_xml import parse_xml
from wrung.names import numbered

_VERSIONS: Final = ("2.4.", "3.")
_UNREAD: Final = (
    *("statements", "usedMethods", "usedSoftware", "measuringEquipments"),
    *("influenceConditions", "measurementMetaData", "comment", "document"),
)
"""Parts of a certificate that may matter to a person, and say nothing of a block's length."""
_MOST_NAMED: Final = 3
"""Items and units, where a document has no gauge block."""


@typed
@refusing("dcc")
def read_dcc(data: bytes, *, unit: Unit = "mm") -> CertificateImport:
    """Read certified blocks from a Digital Calibration Certificate.

    Args:
        data: the XML document.
        unit: unit in which the blocks are marked; lengths of a certificate are always metric.
    """
    root = parse_xml(data)
    if root.tag != f"{DCC}digitalCalibrationCertificate":
        raise UnreadableError("is no Digital Calibration Certificate.")
    head = read_head(root)
    # Another version may spell uncertainties otherwise, and half a reading is worse than none.
    if not head.version.startswith(_VERSIONS):
        raise UnreadableError(f"is {head.version[:20]!r}, not 2.4 or 3.x.", "schemaVersion")
    unread = [name for name in _UNREAD if root.find(f".//{DCC}{name}") is not None]
    found = tuple(islice(tables(root), MOST_BLOCKS + 1))
    if len(found) > MOST_BLOCKS:
        raise UnreadableError(f"has more than {MOST_BLOCKS} tables.")
    return _imported(head, found, unread, unit)


def _imported(
    head: DccHead, found: Sequence[DccTable], unread: Iterable[str], marked: Unit
) -> CertificateImport:
    of_blocks = [table for table in found if _states_blocks(table)]
    alone = len(of_blocks) == 1
    each = (row for table in of_blocks for row in rows(table, head, marked, alone=alone))
    stated = tuple(islice(each, MOST_BLOCKS + 1))
    # A second block of one nominal of a set is `K1/1.005#2`, as `wrung.GaugeSet` names it.
    names = numbered(each.id or "" for each in stated)
    return assemble(
        "dcc",
        tuple(replace(each, id=name) for each, name in zip(stated, names, strict=True)),
        unit="mm",
        marked=marked,
        remarks=tuple(_remarks(head)),
        ignored=few(tuple(_ignored(found, unread)), lambda remark: remark),
        without_blocks=_without_blocks(head, found),
    )


def _states_blocks(table: DccTable) -> bool:
    return "nominal" in table.columns and not {"deviation", "measured"}.isdisjoint(table.columns)


def _without_blocks(head: DccHead, found: Iterable[DccTable]) -> str:
    """What the certificate is about instead, so that a wrong file is known at once."""
    units = dict.fromkeys(unit for table in found for unit in table.units)
    said = "states no gauge block: no table has nominal lengths and deviations or measured lengths."
    if head.item_names:
        said += f" It is of {_some(repr(name[:40]) for name in head.item_names)}."
    return said + (f" It has results in {_some(unit[:40] for unit in units)}." if units else "")


def _some(words: Iterable[str]) -> str:
    """The first of them."""
    listed = tuple(words)
    return ", ".join(listed[:_MOST_NAMED]) + (" and more" if len(listed) > _MOST_NAMED else "")


def _remarks(head: DccHead) -> Iterator[Remark]:
    if head.signed:
        yield Remark(location="the signature", text="was not verified; verify it by other means.")
    yield NO_DUE_DATE


def _ignored(found: Iterable[DccTable], unread: Iterable[str]) -> Iterator[Remark]:
    for name in unread:
        yield Remark(location=name, text="was not read.")
    for table in found:
        if not _states_blocks(table):
            yield Remark(
                location=table.location, text="has no lengths of gauge blocks, was not read."
            )
            continue
        for name in table.others:
            yield Remark(location=f"{table.location}, {name[:40]!r}", text="was not read.")
