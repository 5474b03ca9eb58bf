"""ISO 2768-1: linear sizes without a tolerance of their own, by the class on the drawing."""

from functools import cache

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import InputError
from wrung.fits.limits import SizeLimits
from wrung.lengths import mm, to_text
from wrung.tables import ByRange, Checked, load


@typed
def limits(nominal: int, general_class: str) -> SizeLimits:
    """The limits of size.

    Args:
        nominal: nominal size, quanta; 0.5 mm to 4000 mm, of class f to 2000 mm.
        general_class: ``"f"``, ``"m"``, ``"c"`` or ``"v"``.

    Raises:
        InputError: at ``/nominal`` or ``/general_class``, the standard gives none.
    """
    table = _table()
    row = next((each for each in table.classes if each.name == general_class), None)
    if row is None:
        known = " ".join(each.name for each in table.classes)
        detail = f"no class {general_class[:20]!r} in ISO 2768-1; there are {known}"
        raise InputError.at("/general_class", detail)
    edges = tuple(map(mm, table.up_to))
    values = tuple(mm(value) if value else None for value in row.values)
    deviation = ByRange(edges=edges, values=values).at(nominal)
    if deviation is None or nominal < mm(table.lowest):
        size = f"{to_text(nominal, 'mm')} mm"
        detail = f"ISO 2768-1 gives class {general_class} no deviation for {size}"
        raise InputError.at("/nominal", detail)
    return SizeLimits(nominal=nominal, lower_deviation=-deviation, upper_deviation=deviation)


class _Class(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    name: str
    meaning: str
    values: list[str]


class _Table(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    checked: Checked
    lowest: str
    up_to: list[str]
    classes: list[_Class]


@cache
def _table() -> _Table:
    return load("iso2768.toml", _Table)
