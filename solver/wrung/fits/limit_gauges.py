"""ISO/R 1938: where the plain limit gauges of a tolerance class lie, and how far GO may wear."""

from functools import cache

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import InputError
from wrung.fits import iso286
from wrung.lengths import QUANTA, to_text, um
from wrung.tables import ByRange, Checked, load


class GaugeFigures(Struct, frozen=True, kw_only=True):
    """What places the gauges of one part; lengths in quanta, symbols as in the standard.

    Attributes:
        position: z, from the limit of the part inward to the middle of the zone of a new GO gauge.
        wear_past: y, how far a worn GO gauge may be past that limit.
        safety: alpha, by which NOT GO and the worn GO gauge lie further inside; over 180 mm only.
        tolerance: H, the width of the zone of a gauge.
        checked: how far these figures were compared with print.
    """

    position: int
    wear_past: int
    safety: int
    tolerance: int
    checked: Checked


@typed
def gauge_figures(nominal: int, grade: int, *, internal: bool) -> GaugeFigures:
    """The figures for gauges of a hole or a shaft.

    Args:
        nominal: nominal size, quanta; over 0, up to 500 mm.
        grade: of the standard tolerance of the part, 6 to 16.
        internal: whether the part is a hole or a slot, to be checked with a plug.

    Raises:
        InputError: at ``/grade`` or ``/nominal``, the standard gives none.
    """
    table = _table()
    row = next((each for each in table.grades if each.grade == grade), None)
    if row is None:
        detail = "ISO/R 1938 has gauges for grades 6 to 16"
        raise InputError.at("/grade", detail)
    if not 0 < nominal <= table.edges[-1]:
        detail = f"ISO/R 1938 has gauges for sizes to 500 mm, not {to_text(nominal, 'mm')} mm"
        raise InputError.at("/nominal", detail)
    return row.figures(nominal, table.edges, internal=internal)


class _Grade(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    grade: int
    checked: Checked
    internal: int
    external: int
    z: str
    safety: str
    y: str = ""
    z_external: str = ""
    y_external: str = ""

    def figures(self, nominal: int, edges: tuple[int, ...], *, internal: bool) -> GaugeFigures:
        z, y = (
            (self.z, self.y) if internal else (self.z_external or self.z, self.y_external or self.y)
        )
        return GaugeFigures(
            position=_at(z, nominal, edges),
            wear_past=_at(y, nominal, edges),
            safety=_at(self.safety, nominal, edges),
            tolerance=iso286.standard_tolerance(
                nominal, self.internal if internal else self.external
            ),
            checked=self.checked,
        )


class _Table(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    ranges: list[int]
    grades: list[_Grade]

    @property
    def edges(self) -> tuple[int, ...]:
        """Upper ends of its ranges, quanta."""
        return tuple(edge * QUANTA["mm"] for edge in self.ranges)


def _at(row: str, nominal: int, edges: tuple[int, ...]) -> int:
    # A row that is shorter than the ranges is for the last of them, and zero before.
    values = tuple(map(um, row.split()))
    none = (None,) * (len(edges) - len(values))
    return ByRange(edges=edges, values=(*none, *values)).at(nominal) or 0


@cache
def _table() -> _Table:
    return load("limit_gauges.toml", _Table)
