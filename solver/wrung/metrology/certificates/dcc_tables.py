"""The tables of a Digital Calibration Certificate: which of their columns are what."""

from collections.abc import Iterator
from functools import cache
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.metrology.certificates.dsi import SI
from wrung.metrology.certificates.safe_xml import Element
from wrung.tables import load

DCC: Final = "{https://ptb.de/dcc}"

DccColumn: TypeAlias = Literal["id", "nominal", "deviation", "measured", "variation"]


class DccTable(Struct, frozen=True, kw_only=True):
    """A ``dcc:list`` or ``dcc:data`` with quantities side by side.

    Attributes:
        location: path of it, for remarks.
        columns: the quantities whose meaning is known.
        others: names of the quantities whose meaning is not.
        items: ids of the items that it, or its result, refers to.
        units: of all its quantities, as the document spells them.
    """

    location: str
    columns: dict[DccColumn, Element]
    others: tuple[str, ...]
    items: tuple[str, ...]
    units: tuple[str, ...]


def tables(root: Element) -> Iterator[DccTable]:
    """All tables of the results; ambient conditions and the like are passed over."""
    path = f"{DCC}measurementResults/{DCC}measurementResult/{DCC}results/{DCC}result"
    for number, result in enumerate(root.iterfind(path), 1):
        where = f"result {number}"
        refers = tuple((result.get("refId") or "").split())
        for data in result.iterfind(f"{DCC}data"):
            yield from _within(data, where, refers)


def _within(element: Element, where: str, items: tuple[str, ...]) -> Iterator[DccTable]:
    items = tuple((element.get("refId") or "").split()) or items
    quantities = element.findall(f"{DCC}quantity")
    if quantities:
        yield _table(quantities, where, items)
    for number, inner in enumerate(element.iterfind(f"{DCC}list"), 1):
        yield from _within(inner, f"{where}, list {number}", items)


def _table(quantities: list[Element], where: str, items: tuple[str, ...]) -> DccTable:
    columns: dict[DccColumn, Element] = {}
    others: list[str] = []
    for number, quantity in enumerate(quantities, 1):
        column = _meaning(quantity)
        # Of two columns with one meaning the first counts; the other is reported, not guessed at.
        if column is None or column in columns:
            others.append(next(_names(quantity), f"quantity {number}"))
        else:
            columns[column] = quantity
        items = items or tuple((quantity.get("refId") or "").split())
    return DccTable(
        location=where,
        columns=columns,
        others=tuple(others),
        items=items,
        units=tuple(dict.fromkeys(unit for each in quantities for unit in _units(each))),
    )


def _units(quantity: Element) -> Iterator[str]:
    for name in ("unit", "unitXMLList"):
        for stated in quantity.iter(SI + name):
            yield from (stated.text or "").split()


def _meaning(quantity: Element) -> DccColumn | None:
    """By its refType if it has one that is known, else by its name in any language."""
    types, names = _vocabulary()
    for ref_type in (quantity.get("refType") or "").split():
        # The prefix names a vocabulary, such as basic or gp; what follows is the meaning.
        _, _, plain = ref_type.partition("_")
        if plain in types:
            return types[plain]
    return next((names[name] for name in map(str.lower, _names(quantity)) if name in names), None)


def _names(quantity: Element) -> Iterator[str]:
    for content in quantity.iterfind(f"{DCC}name/{DCC}content"):
        yield " ".join((content.text or "").split())


class _Column(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    field: DccColumn
    types: list[str]
    names: list[str]


@cache
def _vocabulary() -> tuple[dict[str, DccColumn], dict[str, DccColumn]]:
    columns = load("dcc_columns.toml", dict[Literal["columns"], list[_Column]])["columns"]
    types: dict[str, DccColumn] = {name: each.field for each in columns for name in each.types}
    names: dict[str, DccColumn] = {name: each.field for each in columns for name in each.names}
    return types, names
