"""What an answer says in the terms of the trade, as labelled figures for the page."""

from collections.abc import Iterator, Mapping
from typing import Final, Literal, TypeAlias, get_type_hints

from msgspec import Struct

from wrung.lengths import SMALL_UNIT, AnyUnit, Unit, parse
from wrung.measures import Measure
from wrung.rounding import Rounding, read_bound, read_text
from wrung.targets.built import BuiltLength
from wrung.texts import Phrase
from wrung_service.api.bench.members import kinds_by_name
from wrung_service.api.kinds.found import result_of
from wrung_service.api.kinds.hints import core, element_of, measure_of, struct_of
from wrung_service.api.kinds.shapes import Hint, Value
from wrung_service.api.stacks.answer import StackAnswer
from wrung_service.api.words import texts_of

FigureUnit: TypeAlias = AnyUnit | Literal["seconds", "per_small"]

_NOT_SHOWN: Final = frozenset({"target", "remarks", "columns", "held_by", "reason"})
"""What stands elsewhere on the page, or is about the sheet of an instrument."""

_INWARD: Final[Mapping[str, Rounding]] = {
    "permissible_error": "most",
    "permissible_span": "most",
    "moved_inward": "most",
    "reading_at_lower": "least",
    "reading_at_upper": "most",
}
"""Limits in small units."""

_NARROW: Final = 3
"""Columns of figures that stand beside one another at 360 px."""
_ALONE: Final = frozenset({"limits", "setting"})
"""Groups of which a result has one, so that its members need no more words."""


class Figure(Struct, frozen=True, kw_only=True):
    """A figure of a result: the keys of its words, its value, and the unit behind it.

    Attributes:
        words: from the group to the member.
        choice: whether the value is itself a key of a word.
        unit: ``per_small`` is seconds for the least usual change of a length; None for none.
    """

    words: tuple[str, ...]
    value: str
    unit: FigureUnit | None = None
    choice: bool = False


class Table(Struct, frozen=True, kw_only=True):
    """Several of one thing, such as limit gauges; every row has a figure for each heading."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Figure | None, ...], ...]

    @property
    def is_wide(self) -> bool:
        """Whether a phone has no room for so many columns."""
        return len(self.headings) > _NARROW


class Result(Struct, frozen=True, kw_only=True):
    """What is said of a target."""

    target: str
    kind: str
    figures: tuple[Figure, ...]
    tables: tuple[Table, ...]
    remarks: tuple[str, ...]


def results_of(answer: StackAnswer) -> tuple[Result, ...]:
    """Of each target that is more than a length."""
    return tuple(_result(each, answer.unit) for each in answer.results or ())


def _result(written: Value, unit: Unit) -> Result:
    kind = str(written.__struct_config__.tag)
    found = result_of(kinds_by_name()[kind])
    return Result(
        target=written.target,
        kind=kind,
        figures=tuple(_figures(found, written, unit)),
        tables=tuple(_tables(found, written, unit)),
        remarks=texts_of(written.remarks),
    )


def _hints(found: type[Struct]) -> Iterator[tuple[str, Hint]]:
    hints = get_type_hints(found, include_extras=True)
    return ((name, hints[name]) for name in found.__struct_fields__ if name not in _NOT_SHOWN)


def _figures(
    found: type[Struct], written: Value, unit: Unit, before: tuple[str, ...] = ()
) -> Iterator[Figure]:
    for name, hint in _hints(found):
        value, inner = getattr(written, name), struct_of(hint)
        if value is None or inner in (BuiltLength, Phrase):
            continue
        if inner is not None:
            yield from _figures(inner, value, unit, before if name in _ALONE else (*before, name))
        elif element_of(hint) is None or measure_of(element_of(hint)) is not None:
            yield from _figure((*before, name), hint, value, unit)


def _figure(words: tuple[str, ...], hint: Hint, value: Value, unit: Unit) -> Iterator[Figure]:
    element = element_of(hint)
    measure = measure_of(hint if element is None else element)
    values = (value,) if element is None else value
    written = "  ".join(_read(_written(each), words[-1], measure, unit) for each in values)
    if written:
        choice = measure is None and (core(hint) is not str or words[-1] == "role")
        yield Figure(words=words, value=written, unit=_unit(measure, unit), choice=choice)


def _written(value: Value) -> str:
    """An angle in degrees, minutes and seconds; anything else as it is."""
    return str(getattr(value, "dms", value))


def _read(text: str, name: str, measure: Measure | None, unit: Unit) -> str:
    """With no more figures than a shop can use."""
    match measure:
        case Measure.LENGTH | Measure.DIFFERENCE:
            return read_text(text, unit)
        case Measure.MARGIN if name not in _INWARD:
            return read_bound(parse(text, SMALL_UNIT[unit]), SMALL_UNIT[unit])
        case Measure.MARGIN | Measure.DEVIATION:
            return read_text(text, SMALL_UNIT[unit], _INWARD.get(name, "result"))
        case _:
            return text


def _unit(measure: Measure | None, unit: Unit) -> FigureUnit | None:
    if measure in (Measure.LENGTH, Measure.DIFFERENCE):
        return unit
    if measure in (Measure.DEVIATION, Measure.MARGIN):
        return SMALL_UNIT[unit]
    if measure is Measure.SENSITIVITY:
        return "per_small"
    return "seconds" if measure is Measure.SECONDS else None


def _tables(found: type[Struct], written: Value, unit: Unit) -> Iterator[Table]:
    for name, hint in _hints(found):
        element = element_of(hint)
        inner = None if element is None else struct_of(element)
        if inner is not None and inner is not BuiltLength and inner is not Phrase:
            yield _table(name, inner, getattr(written, name), unit)
        elif element is None and struct_of(hint) not in (None, BuiltLength, Phrase):
            nested = getattr(written, name)
            if nested is not None:
                yield from _tables(struct_of(hint) or found, nested, unit)


def _table(name: str, inner: type[Struct], values: Value, unit: Unit) -> Table:
    rows = [{figure.words[-1]: figure for figure in _figures(inner, v, unit)} for v in values]
    headings = [n for n, _ in _hints(inner) if any(n in row for row in rows)]
    cells = tuple(tuple(row.get(heading) for heading in headings) for row in rows)
    return Table(name=name, headings=tuple(headings), rows=cells)
