"""ISO 2768-1: linear sizes without a tolerance of their own, by the class on the drawing."""

from bisect import bisect_left
from functools import cache

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import InputError
from wrung.fits.limits import SizeLimits
from wrung.lengths import mm, to_text
from wrung.tables import Checked, load


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
    if general_class not in table.classes:
        detail = (
            f"no class {general_class[:20]!r} in ISO 2768-1; there are {' '.join(table.classes)}"
        )
        raise InputError.at("/general_class", detail)
    deviation = table.deviation(nominal, general_class)
    if deviation is None:
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


class _Table:
    """The standard's table in quanta."""

    def __init__(self, printed: _Printed) -> None:
        self._lowest = mm(printed.lowest)
        self._edges = [mm(edge) for edge in printed.up_to]
        self.classes = {
            row.name: [mm(each) if each else None for each in row.values] for row in printed.classes
        }

    def deviation(self, nominal: int, name: str) -> int | None:
        place = bisect_left(self._edges, nominal)
        values = self.classes[name]
        # A row may end before the table does: class f is given to 2000 mm only.
        return values[place] if nominal >= self._lowest and place < len(values) else None


@cache
def _table() -> _Table:
    return _Table(load("iso2768.toml", _Printed))
