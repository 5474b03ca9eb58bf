"""What is said to a person: phrases by key, worded in a language by a data file each.

A phrase holds its figures as quanta, so that one answer can be read out in any language and unit.
A further language is one file ``data/texts/xx.toml`` with the same keys.
"""

from collections.abc import Mapping
from decimal import Decimal
from functools import cache
from importlib.resources import files
from typing import Final, TypeAlias

from msgspec import Struct

from wrung.angles import to_dms, to_seconds
from wrung.checked_types import typed
from wrung.degrees import from_celsius
from wrung.errors import Fault, InputError
from wrung.lengths import QUANTA, SMALL_UNIT, UNIT_SIGNS, Unit, to_text
from wrung.measures import Measure, TemperatureUnit
from wrung.names import or_nearest
from wrung.tables import load

SIGNS: Final[Mapping[str, str]] = {
    **UNIT_SIGNS,
    "degC": "°C",
    "degF": "°F",
}
"""Units as they are written."""

_READ_OUT: Final[dict[Unit, int]] = {"mm": QUANTA["um"] // 10, "in": QUANTA["uin"]}
"""What is worked out has as many digits as there are quanta; nobody at a bench reads more."""

_USUAL_DEGREES: Final[dict[Unit, TemperatureUnit]] = {"mm": "degC", "in": "degF"}
"""People who work in inches read °F, unless they say otherwise (common practice, no source)."""


class Marked(Struct, frozen=True, kw_only=True):
    """A block as it is told apart at the bench: by the figure on it, and by its id.

    Attributes:
        nominal: its nominal length, quanta.
        unit: the unit that it is marked in.
        id: its id; an id that only repeats the figure is not said.
    """

    nominal: int
    unit: Unit
    id: str


class Figure(Struct, frozen=True, kw_only=True):
    """A value in a phrase.

    Attributes:
        name: its place in the wording.
        value: quanta of ``measure``, or decimal text of a ratio or of °C; a whole number, a name,
            blocks or something said in its turn where there is no measure. Several are listed.
        measure: what it measures.
    """

    name: str
    value: "Value"
    measure: Measure | None = None


class Phrase(Struct, frozen=True, kw_only=True):
    """Something to say: the key of its wording, and the figures in it."""

    key: str
    figures: tuple[Figure, ...] = ()


Value: TypeAlias = int | str | Phrase | tuple[int, ...] | tuple[Marked, ...] | tuple[Phrase, ...]


@typed
def phrase(key: str, *figures: Figure) -> Phrase:
    """A phrase with its figures."""
    return Phrase(key=key, figures=figures)


@typed
def figure(name: str, value: Value, measure: Measure | None = None) -> Figure:
    """A figure of a phrase."""
    return Figure(name=name, value=value, measure=measure)


@cache
def languages() -> tuple[str, ...]:
    """The languages there are wordings in, such as ``"en"``."""
    names = (entry.name for entry in files("wrung").joinpath("data", "texts").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


@typed
def decimal_mark(language: str) -> str:
    """The decimal sign of a language."""
    return _wordings(language).decimal_mark


@typed
def keys(language: str) -> frozenset[str]:
    """Every key that the language has a wording for."""
    return frozenset(_wordings(language).phrases)


@typed
def word(
    said: Phrase,
    language: str = "en",
    unit: Unit = "mm",
    degrees: TemperatureUnit | None = None,
) -> str:
    """The phrase in words, its lengths in ``unit`` and its small unit.

    Args:
        said: the phrase.
        language: of the words.
        unit: of lengths.
        degrees: of temperatures; °C for ``"mm"`` and °F for ``"in"`` if not given.

    Raises:
        InputError: at ``/language``, there are no wordings in it.
    """
    reader = _Reader(
        unit=unit, degrees=degrees or _USUAL_DEGREES[unit], wordings=_wordings(language)
    )
    return reader.say(said)


class _Wordings(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    decimal_mark: str
    phrases: dict[str, str]


@cache
def _wordings(language: str) -> _Wordings:
    # By the files there are, since what the caller names becomes part of a path.
    if language not in languages():
        nearest = or_nearest(language, languages())
        detail = (
            f"there is no text in {language[:20]!r}{nearest}; there is {', '.join(languages())}"
        )
        raise InputError([Fault(pointer="/language", detail=detail)])
    return load(f"texts/{language}.toml", _Wordings)


class _Reader(Struct, frozen=True, kw_only=True):
    """Reads out figures, in the units and with the decimal mark of one text."""

    unit: Unit
    degrees: TemperatureUnit
    wordings: _Wordings

    @property
    def mark(self) -> str:
        return self.wordings.decimal_mark

    def say(self, said: Phrase) -> str:
        figures = {each.name: self._read(each) for each in said.figures}
        return self.wordings.phrases[said.key].format_map(figures)

    def _read(self, figure: Figure) -> str:
        if not isinstance(figure.value, tuple):
            return self._one(figure.value, figure.measure)
        return ", ".join(self._one(each, figure.measure) for each in figure.value)

    def _one(self, value: int | str | Phrase | Marked, measure: Measure | None) -> str:
        if isinstance(value, Phrase):
            return self.say(value)
        if isinstance(value, Marked):
            return self._marked(value)
        # Without a measure it is a name or a count, in which a point is no decimal mark.
        if measure is None:
            return str(value)
        return self._measured(value, measure).replace(".", self.mark)

    def _marked(self, block: Marked) -> str:
        nominal = to_text(block.nominal, block.unit)
        figure = f"{nominal.replace('.', self.mark)} {SIGNS[block.unit]}"
        name = _beside(block.id, nominal)
        return f"{figure} ({name})" if name else figure

    def _measured(self, value: int | str, measure: Measure) -> str:
        if measure is Measure.TEMPERATURE:
            return self._temperature(Decimal(value))
        return value if isinstance(value, str) else _in_unit(value, measure, self.unit)

    def _temperature(self, celsius: Decimal) -> str:
        return f"{from_celsius(celsius, self.degrees).normalize():f} {SIGNS[self.degrees]}"


def _beside(name: str, nominal: str) -> str:
    """What a block's name says beside its figure: of ``bench-3/0.1005#2`` it is ``bench-3, #2``."""
    whole, _, number = name.partition("#")
    place, _, figure = whole.rpartition("/")
    if figure != nominal:
        return name
    return ", ".join(part for part in (place, number and f"#{number}") if part)


def _in_unit(value: int, measure: Measure, unit: Unit) -> str:
    match measure:
        case Measure.LENGTH | Measure.DIFFERENCE | Measure.WORKED_OUT:
            step = _READ_OUT[unit] if measure is Measure.WORKED_OUT else 1
            return f"{to_text((2 * value + step) // (2 * step) * step, unit)} {SIGNS[unit]}"
        # Deviations are read in µm or µin, as certificates state them.
        case Measure.MARGIN:
            return _small(value, unit)
        case Measure.DEVIATION:
            return f"+{_small(value, unit)}" if value > 0 else _small(value, unit)
        case Measure.ANGLE:
            return to_dms(value)
        case Measure.SECONDS:
            return f'{to_seconds(value)}"'
        case _:
            return str(value)


def _small(value: int, unit: Unit) -> str:
    small = SMALL_UNIT[unit]
    return f"{to_text(value, small)} {SIGNS[small]}"
