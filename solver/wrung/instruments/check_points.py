"""Points at which an instrument is checked, and what standards permit there."""

from bisect import bisect_left
from functools import cache
from itertools import pairwise
from typing import Final, Literal, TypeAlias

from msgspec import Struct, field

from wrung.lengths import SMALL_UNIT, Unit, parse
from wrung.names import named
from wrung.tables import Sourced, load

InstrumentKind: TypeAlias = Literal[
    "micrometer", "vernier_caliper", "fine_caliper", "depth_gauge", "dial_indicator", "other"
]

_POINTS: Final = 10
_PHASES: Final = 5


class PointSeries(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Check points of one sort of instrument, as they are printed: in its unit."""

    id: str
    name: str
    unit: Unit
    printed_travel: str = field(name="travel")
    printed_points: list[str] = field(name="points")

    @property
    def travel(self) -> int:
        """Upper end less lower end of the measuring range, quanta."""
        return parse(self.printed_travel, self.unit)

    @property
    def points(self) -> tuple[int, ...]:
        """The points, from the lower end of the range, quanta."""
        return tuple(parse(point, self.unit) for point in self.printed_points)


def all_series() -> tuple[PointSeries, ...]:
    """Every series known."""
    return tuple(_series().values())


def series(series_id: str) -> PointSeries:
    """The series of that id.

    Raises:
        InputError: at ``/series``, there is none.
    """
    return named(_series(), series_id, "series", "/series")


def points_for_pitch(pitch: int, travel: int) -> tuple[int, ...]:
    """Ten points over the travel that see a thread of that pitch at five phases, twice.

    Every tenth of the travel, each brought down to a whole turn and set forward by a
    fifth of a turn more than the last. For 0.025 in over 1 in these are the points in use.
    """
    tenths = (travel * k // _POINTS for k in range(1, _POINTS + 1))
    return tuple(
        tenth // pitch * pitch + (k % _PHASES) * pitch // _PHASES
        for k, tenth in enumerate(tenths, 1)
    )


def permissible_error(
    instrument: InstrumentKind, point: int, *, range_start: int, range_end: int
) -> int | None:
    """Limit of the error of indication, quanta; None where no standard here gives it.

    Args:
        instrument: what is checked.
        point: the measured length.
        range_start: lower end of the instrument's measuring range.
        range_end: upper end of it.
    """
    table = _table_for(instrument, range_start, range_end)
    if table is None or not range_start <= point <= range_end:
        return None
    return table.at(point if table.by == "length" else range_end)


def limit_of_length(instrument: InstrumentKind, length: int) -> int | None:
    """The limit that any such instrument which reaches a length has there; None likewise."""
    table = next((t for t in _printed().permissible if t.instrument == instrument), None)
    if table is None or table.by != "length" or length > table.edges[-1]:
        return None
    return table.at(length)


def permissible_span(instrument: InstrumentKind, travel: int) -> int | None:
    """Limit of the largest less the smallest error over the travel, quanta; None likewise."""
    table = _span_table(instrument, travel)
    return None if table is None else table.at(travel)


def standard_of(instrument: InstrumentKind, *, range_start: int, range_end: int) -> str | None:
    """The standard that the limits of error of such a range are from; None without any."""
    table = _table_for(instrument, range_start, range_end)
    found = table or _span_table(instrument, range_end - range_start)
    return None if found is None else found.standard


def is_limited(instrument: InstrumentKind) -> bool:
    """Whether a standard here limits the errors of such instruments, of whatever range."""
    tables = (*_printed().permissible, *_printed().spans)
    return any(table.instrument == instrument for table in tables)


def _table_for(
    instrument: InstrumentKind, range_start: int, range_end: int
) -> "_Permissible | None":
    """The table that covers the whole range of an instrument; None if none does."""
    for table in _printed().permissible:
        # Of an instrument that reaches beyond the table, the table says nothing at all.
        if table.instrument != instrument or range_end > table.edges[-1]:
            continue
        # A range that is not one of the table's is not one of the standard's either.
        if table.by == "length" or (range_start, range_end) in pairwise((0, *table.edges)):
            return table
    return None


def _span_table(instrument: InstrumentKind, travel: int) -> "_Permissible | None":
    # A travel that is not one of the table's is not one of the standard's either.
    tables = (table for table in _printed().spans if travel in table.edges)
    return next((table for table in tables if table.instrument == instrument), None)


class _Permissible(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    instrument: InstrumentKind
    standard: str
    by: Literal["range", "length", "travel"]
    up_to: list[str]
    values: list[str]
    unit: Unit = "mm"

    def __post_init__(self) -> None:
        """Refuse a table with a value too few or too many."""
        if len(self.up_to) != len(self.values):
            raise ValueError(f"the table of {self.instrument} has not one value a range")

    @property
    def edges(self) -> tuple[int, ...]:
        """Upper ends of its ranges, quanta."""
        return tuple(parse(edge, self.unit) for edge in self.up_to)

    def at(self, length: int) -> int:
        """The value for a length or for the end of a range; one on an edge is of the lower one."""
        value = self.values[bisect_left(self.edges, length)]
        return parse(value, SMALL_UNIT[self.unit])


class _Printed(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    series: list[PointSeries]
    permissible: list[_Permissible]
    spans: list[_Permissible]


@cache
def _printed() -> _Printed:
    return load("check_points.toml", _Printed)


def _series() -> dict[str, PointSeries]:
    return {each.id: each for each in _printed().series}
