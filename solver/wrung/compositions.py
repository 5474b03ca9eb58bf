"""Compositions: the series of nominal lengths that make up a gauge set."""

from collections.abc import Collection
from functools import cache
from typing import Literal

from msgspec import Struct

from wrung.blocks import Role, Section
from wrung.checked_types import typed
from wrung.errors import InputError
from wrung.lengths import Unit, parse, to_text
from wrung.markings import Marking, usual_marking
from wrung.names import or_nearest
from wrung.tables import Sourced, load


class Series(Struct, frozen=True, kw_only=True):
    """Equally spaced nominal lengths, quanta; a step of 0 means blocks of one length."""

    start: int
    stop: int
    step: int
    count: int

    def __post_init__(self) -> None:
        if self.count < 1 or self.start + (self.count - 1) * self.step != self.stop:
            raise ValueError("start, stop, step and count of a series contradict each other")

    def nominals(self) -> tuple[int, ...]:
        """The lengths, quanta, ascending."""
        return tuple(self.start + index * self.step for index in range(self.count))


class _Delivered(Sourced, frozen=True, kw_only=True):
    """What a composition has as it stands in the table.

    Attributes:
        id: what sets call it, such as ``"inch-81"``.
        name: what it is, in words.
        aliases: further names for it.
        unit: unit that the blocks are marked in.
        role: ``"wear"`` for a set of wear blocks only.
        section: shape of its blocks across their length.
        count: number of blocks.
    """

    id: str
    name: str
    aliases: tuple[str, ...] = ()
    unit: Unit
    role: Role = "gauge"
    section: Section = "rectangular"
    count: int


class Composition(_Delivered, frozen=True, kw_only=True):
    """A set's nominal lengths as its maker delivers it. All lengths are quanta of 0.01 nm.

    Attributes:
        series: the lengths as catalogues and standards print them.
        nominals: every block's length, ascending; a length stands as often as there are blocks.
        total: sum of the nominal lengths.
        marking: how its sizes stand on the blocks.
    """

    series: tuple[Series, ...]
    nominals: tuple[int, ...]
    total: int
    marking: Marking

    def __post_init__(self) -> None:
        expanded = sorted(nominal for series in self.series for nominal in series.nominals())
        # Count and total are stated apart from the series, so a slip in either shows.
        if expanded != list(self.nominals) or len(expanded) != self.count:
            raise ValueError(f"{self.id}: the series give {len(expanded)} blocks, not {self.count}")
        if sum(expanded) != self.total:
            given, declared = to_text(sum(expanded), self.unit), to_text(self.total, self.unit)
            raise ValueError(f"{self.id}: the lengths add up to {given}, not {declared}")


def all_compositions() -> tuple[Composition, ...]:
    """Every composition known: inch, metric, wear blocks."""
    return tuple(_by_id().values())


@typed
def composition(composition_id: str) -> Composition:
    """The composition of that id or alias.

    Raises:
        InputError: at ``/composition``, there is none. Where several sets go by one number of
            blocks the bare number is refused, and the detail names them.
    """
    known = _by_id()
    found = known.get(composition_id) or known.get(_aliases().get(composition_id, ""))
    if found is None:
        detail = f"no composition {composition_id!r} is known{_advice(composition_id, known)}"
        raise InputError.at("/composition", detail)
    return found


def _advice(composition_id: str, known: Collection[str]) -> str:
    meant = [name for name in known if name.startswith(f"{composition_id}-")]
    if meant:
        return f"; there are several: {', '.join(meant)}"
    return or_nearest(composition_id, (*known, *_aliases()))


class _SeriesText(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A series as printed; a single length has neither stop nor step."""

    start: str
    stop: str | None = None
    step: str = "0"
    count: int = 1

    def read(self, unit: Unit) -> Series:
        start, step = parse(self.start, unit), parse(self.step, unit)
        stop = start if self.stop is None else parse(self.stop, unit)
        return Series(start=start, stop=stop, step=step, count=self.count)


class _CompositionText(_Delivered, frozen=True, kw_only=True, forbid_unknown_fields=True):
    series: list[_SeriesText]
    total: str
    marking: Marking | None = None

    def read(self) -> Composition:
        series = tuple(text.read(self.unit) for text in self.series)
        return Composition(
            **{name: getattr(self, name) for name in _Delivered.__struct_fields__},
            series=series,
            nominals=tuple(sorted(nominal for s in series for nominal in s.nominals())),
            total=parse(self.total, self.unit),
            marking=self.marking or usual_marking(self.unit),
        )


@cache
def _by_id() -> dict[str, Composition]:
    table = load("compositions.toml", dict[Literal["compositions"], list[_CompositionText]])
    return {text.id: text.read() for text in table["compositions"]}


@cache
def _aliases() -> dict[str, str]:
    return {alias: found.id for found in _by_id().values() for alias in found.aliases}


def compositions_with(nominal: int, unit: Unit, role: Role = "gauge") -> tuple[str, ...]:
    """The ids of the compositions that have a block of that nominal length, quanta; empty if none.

    Args:
        nominal: the length.
        unit: the unit that the block is marked in.
        role: gauge block or wear block.
    """
    return _holders().get((nominal, unit, role), ())


@cache
def _holders() -> dict[tuple[int, Unit, Role], tuple[str, ...]]:
    found: dict[tuple[int, Unit, Role], tuple[str, ...]] = {}
    for each in all_compositions():
        for nominal in sorted(set(each.nominals)):
            block = (nominal, each.unit, each.role)
            found[block] = (*found.get(block, ()), each.id)
    return found
