"""Points at which an instrument is checked, and what standards permit there."""

from bisect import bisect_left
from functools import cache
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.errors import Fault, InputError
from wrung.lengths import Unit, mm, parse, um
from wrung.names import or_nearest
from wrung.tables import Checked, load

Instrument: TypeAlias = Literal["micrometer", "vernier_caliper", "fine_caliper", "other"]

_POINTS: Final = 10
_PHASES: Final = 5


class Series(Struct, frozen=True, kw_only=True):
    """Check points of one sort of instrument; lengths in quanta, from the range's lower end."""

    id: str
    name: str
    unit: Unit
    travel: int
    points: tuple[int, ...]
    source: str
    checked: Checked


def all_series() -> tuple[Series, ...]:
    """Every series known."""
    return tuple(_series().values())


def series(series_id: str) -> Series:
    """The series of that id.

    Raises:
        InputError: at ``/series``, there is none.
    """
    try:
        return _series()[series_id]
    except KeyError:
        detail = f"no series {series_id[:40]!r} is known{or_nearest(series_id, _series())}"
        detail += f"; there are {', '.join(_series())}"
        raise InputError([Fault(pointer="/series", detail=detail)]) from None


def points_for_pitch(pitch: int, travel: int) -> tuple[int, ...]:
    """Ten points over the travel that see a thread of that pitch at five phases, twice.

    A tenth of the travel after the other, each brought down to a whole turn and set forward by a
    fifth of a turn more than the last. For 0.025 in over 1 in these are the points in use.
    """
    tenths = (travel * k // _POINTS for k in range(1, _POINTS + 1))
    return tuple(
        tenth // pitch * pitch + (k % _PHASES) * pitch // _PHASES
        for k, tenth in enumerate(tenths, 1)
    )


def permissible_error(instrument: Instrument, point: int, range_end: int) -> int | None:
    """Limit of the error of indication, quanta; None where no standard here gives it.

    Args:
        instrument: what is checked.
        point: the measured length.
        range_end: upper end of the instrument's measuring range.
    """
    for table in _printed().permissible:
        if table.instrument == instrument:
            edges = [mm(edge) for edge in table.up_to]
            # A range between two of the table's is not one of the standard's.
            if table.by == "range" and range_end not in edges:
                return None
            # Ranges are over, up to and including, so a length on an edge belongs to the lower one.
            place = bisect_left(edges, range_end if table.by == "range" else point)
            return um(table.values[place]) if place < len(edges) else None
    return None


class _PrintedSeries(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    id: str
    name: str
    unit: Unit
    travel: str
    points: list[str]
    checked: Checked
    source: str


class _Permissible(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    instrument: Instrument
    standard: str
    by: Literal["range", "length"]
    up_to: list[str]
    values: list[str]
    checked: Checked
    source: str

    def __post_init__(self) -> None:
        """Refuse a table with a value too few or too many."""
        if len(self.up_to) != len(self.values):
            raise ValueError(f"the table of {self.instrument} has not one value a range")


class _Printed(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    series: list[_PrintedSeries]
    permissible: list[_Permissible]


@cache
def _printed() -> _Printed:
    return load("check_points.toml", _Printed)


@cache
def _series() -> dict[str, Series]:
    return {
        each.id: Series(
            id=each.id,
            name=each.name,
            unit=each.unit,
            travel=parse(each.travel, each.unit),
            points=tuple(parse(point, each.unit) for point in each.points),
            source=each.source,
            checked=each.checked,
        )
        for each in _printed().series
    }
