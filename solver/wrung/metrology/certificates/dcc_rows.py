"""The rows of a certificate's table, each what it states of one block."""

import re
from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Final

from wrung.errors import LengthError
from wrung.lengths import Unit, parse, to_text
from wrung.metrology.certificates.dcc_head import DccHead
from wrung.metrology.certificates.dcc_tables import DCC, DccColumn, DccTable
from wrung.metrology.certificates.dsi import DsiValue, values_of
from wrung.metrology.certificates.report import UnreadableError
from wrung.metrology.certificates.safe_xml import Element, words_of
from wrung.metrology.certificates.stated import Stated

_TEXT: Final = f"{DCC}noQuantity/{DCC}content"
_UM: Final = Decimal(1000)
_NOMINAL: Final = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?mm")


def rows(table: DccTable, head: DccHead, marked: Unit, *, alone: bool) -> Iterator[Stated]:
    """What a table states, lengths in mm.

    Args:
        table: the table; it has nominal lengths and deviations or measured lengths.
        head: who calibrated what and when.
        marked: unit in which the blocks are marked, for their ids.
        alone: it is the only table that states blocks.

    Raises:
        UnreadableError: its columns do not fit together.
    """
    nominals = _nominals(table)
    deviations = _deviations(table, nominals)
    variations = _variations(table, len(nominals))
    ids = _ids(table, head, nominals, marked, alone=alone)
    if not len(nominals) == len(deviations) == len(variations) == len(ids):
        raise UnreadableError("has columns that are not equally long.", table.location)
    each = zip(nominals, deviations, variations, ids, strict=True)
    for number, (nominal, deviation, variation, name) in enumerate(each, 1):
        yield Stated(
            location=f"{table.location}, row {number}",
            id=name,
            nominal=_plain(nominal),
            deviation=_small(deviation.value),
            expanded_uncertainty=_small(deviation.expanded_uncertainty),
            coverage_factor=_plain(deviation.factor),
            standard_uncertainty=_small(deviation.standard),
            variation=_small(variation.value) if variation else None,
            certificate=head.certificate,
            laboratory=head.laboratory,
            calibrated_on=head.calibrated_on,
        )


def _nominals(table: DccTable) -> list[Decimal]:
    """Nominal lengths, mm; older certificates write them as text, such as ``50 mm``."""
    text = words_of(table.columns["nominal"], _TEXT)
    if text is None:
        return [value.value for value in _column(table, "nominal")]
    found = _NOMINAL.fullmatch(text)
    if found is None:
        raise UnreadableError(f"has the nominal length {text[:40]!r}.", table.location)
    return [Decimal(found[1])]


def _deviations(table: DccTable, nominals: Sequence[Decimal]) -> list[DsiValue]:
    """Deviations; a measured length less the nominal one has the uncertainty of the former."""
    if "deviation" in table.columns:
        return _column(table, "deviation")
    measured = _column(table, "measured")
    return [
        DsiValue(
            value=length.value - nominal,
            expanded_uncertainty=length.expanded_uncertainty,
            factor=length.factor,
            standard=length.standard,
        )
        # Columns of unequal length are refused in `rows`, where all of them are at hand.
        for length, nominal in zip(measured, nominals, strict=False)
    ]


def _variations(table: DccTable, count: int) -> Sequence[DsiValue | None]:
    return _column(table, "variation") if "variation" in table.columns else [None] * count


def _column(table: DccTable, column: DccColumn) -> list[DsiValue]:
    if column not in table.columns:
        return []
    try:
        return list(values_of(table.columns[column]))
    except UnreadableError as error:
        raise UnreadableError(error.text, f"{table.location}, {column}") from None


def _ids(
    table: DccTable, head: DccHead, nominals: Sequence[Decimal], marked: Unit, *, alone: bool
) -> Sequence[str]:
    if "id" in table.columns:
        return _stated_ids(table.columns["id"])
    names = _items(table, head)
    # Among several tables that name no item, equal numbers may be chance.
    if len(names) == len(nominals) and (table.items or alone):
        return names
    if len(names) != 1:
        raise UnreadableError("does not say which items it is about.", table.location)
    return [f"{names[0]}/{_label(nominal, marked)}" for nominal in nominals]


def _stated_ids(quantity: Element) -> Sequence[str]:
    """Ids as a list of words, or as the text of a single block."""
    words = (quantity.findtext(f"{DCC}charsXMLList") or "").split()
    text = words_of(quantity, _TEXT)
    return words or ([text] if text else [])


def _items(table: DccTable, head: DccHead) -> list[str]:
    """Identifications of the items that a table is about, of all items if it does not say."""
    if not table.items:
        return list(head.items.values())
    unknown = [name for name in table.items if name not in head.items]
    if unknown:
        raise UnreadableError(f"refers to an unknown item {unknown[0][:40]!r}.", table.location)
    return [head.items[name] for name in table.items]


def _label(nominal: Decimal, marked: Unit) -> str:
    text = _plain(nominal) or ""
    try:
        return to_text(parse(text, "mm"), marked)
    except LengthError:
        return text  # is refused with its reason when the block is assembled


def _small(length: Decimal | None) -> str | None:
    """A length in mm as text in µm."""
    return None if length is None else _plain(length * _UM)


def _plain(number: Decimal | None) -> str | None:
    """Decimal text without exponent and without zeros at its end."""
    if number is None:
        return None
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
