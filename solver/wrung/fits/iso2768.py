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
    if general_class not in table.deviations:
        known = " ".join(table.deviations)
        detail = f"no class {general_class[:20]!r} in ISO 2768-1; there are {known}"
        raise InputError.at("/general_class", detail)
    deviation = table.deviations[general_class].at(nominal)
    if deviation is None or nominal < table.lowest:
        size = f"{to_text(nominal, 'mm')} mm"
        detail = f"ISO 2768-1 gives class {general_class} no deviation for {size}"
        raise InputError.at("/nominal", detail)
    return SizeLimits(nominal=nominal, lower_deviation=-deviation, upper_deviation=deviation)


class _Class(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    name: str
    meaning: str
    values: list[str]


class _Printed(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    checked: Checked
    lowest: str
    up_to: list[str]
    classes: list[_Class]


class _Table(Struct, frozen=True, kw_only=True):
    """The standard's table in quanta."""

    lowest: int
    deviations: dict[str, ByRange[int]]


@cache
def _table() -> _Table:
    printed = load("iso2768.toml", _Printed)
    edges = tuple(map(mm, printed.up_to))
    return _Table(
        lowest=mm(printed.lowest),
        deviations={
            row.name: ByRange(edges=edges, values=tuple(mm(v) if v else None for v in row.values))
            for row in printed.classes
        },
    )
