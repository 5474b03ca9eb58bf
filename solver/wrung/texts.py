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

from wrung.checked_types import typed
from wrung.errors import InputError
from wrung.lengths import SMALL_UNIT, UNIT_SIGNS, AnyUnit, SmallUnit, Unit, to_text
from wrung.measures import Measure, TemperatureUnit, from_celsius, to_kelvin
from wrung.names import or_nearest
from wrung.rounding import Rounding, read_angle, read_bound, read_length, read_seconds
from wrung.tables import load

SIGNS: Final[Mapping[str, str]] = {
    **UNIT_SIGNS,
    "degC": "°C",
    "degF": "°F",
}
"""Units as they are written."""

USUAL_DEGREES: Final[dict[Unit, TemperatureUnit]] = {"mm": "degC", "in": "degF"}
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
        rounding: how a length or deviation is read out.
        uncertainty: of a length that was worked out, quanta; it has no figures beyond that.
    """

    name: str
    value: "Value"
    measure: Measure | None = None
    rounding: Rounding = "result"
    uncertainty: int | None = None


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
def figure(
    name: str,
    value: Value,
    measure: Measure | None = None,
    rounding: Rounding = "result",
    *,
    uncertainty: int | None = None,
) -> Figure:
    """A figure of a phrase."""
    return Figure(
        name=name, value=value, measure=measure, rounding=rounding, uncertainty=uncertainty
    )


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
def marked(text: str, unit: AnyUnit, mark: str) -> str:
    """A figure with the signs of print; inches keep their point, as on blocks."""
    figure_text = text if unit == "in" else text.replace(".", mark)
    return figure_text.replace("-", "−")  # noqa: RUF001 - a minus sign


@typed
def in_degrees(celsius: Decimal, unit: TemperatureUnit) -> str:
    """A temperature in a unit, with its sign."""
    # What was stated in °F has no end in °C; no thermometer shows the digits that are left.
    degrees = round(from_celsius(celsius, unit), 3).normalize()
    return f"{degrees:f} {SIGNS[unit]}".replace("-", "−")  # noqa: RUF001 - a minus sign


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
        unit=unit, degrees=degrees or USUAL_DEGREES[unit], wordings=_wordings(language)
    )
    return reader.say(said)


@typed
def role_in_words(role: str, language: str = "en") -> str:
    """The part that a stack plays in its target.

    >>> role_in_words("point_3", "de")
    'Prüfpunkt 3'
    """
    words = _wordings(language).phrases
    alike, _, number = role.rpartition("_")
    if number.isdigit() and (word_of_all := words.get(f"role.{alike}")):
        return f"{word_of_all} {number}"
    return words.get(f"role.{role}", role.replace("_", " "))


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
        raise InputError.at("/language", detail)
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
            return self._one(figure.value, figure)
        return ", ".join(self._one(each, figure) for each in figure.value)

    def _one(self, value: int | str | Phrase | Marked, figure: Figure) -> str:
        if isinstance(value, Phrase):
            return self.say(value)
        if isinstance(value, Marked):
            return self._marked(value)
        # Without a measure it is a name or a count, in which a point is no decimal mark.
        if figure.measure is None:
            return str(value)
        return self._measured(value, figure.measure, figure).replace(".", self.mark)

    def _marked(self, block: Marked) -> str:
        nominal = to_text(block.nominal, block.unit)
        figure = f"{nominal.replace('.', self.mark)} {SIGNS[block.unit]}"
        name = _beside(block.id, nominal)
        return f"{figure} ({name})" if name else figure

    def _measured(self, value: int | str, measure: Measure, figure: Figure) -> str:
        if measure is Measure.TEMPERATURE:
            return in_degrees(Decimal(value), self.degrees)
        if measure is Measure.EXPANSION:
            return f"{round(to_kelvin(Decimal(value), self.degrees), 1).normalize():f}"
        if isinstance(value, str):
            return value
        return _in_unit(value, measure, self.unit, figure)


def _beside(name: str, nominal: str) -> str:
    """What a block's name says beside its figure: of ``bench-3/0.1005#2`` it is ``bench-3, #2``."""
    whole, _, number = name.partition("#")
    place, _, figure = whole.rpartition("/")
    if figure != nominal:
        return name
    return ", ".join(part for part in (place, number and f"#{number}") if part)


def _in_unit(value: int, measure: Measure, unit: Unit, figure: Figure) -> str:
    match measure:
        case Measure.LENGTH | Measure.DIFFERENCE:
            text = read_length(value, unit, figure.rounding, uncertainty=figure.uncertainty)
            return f"{text} {SIGNS[unit]}"
        # Deviations are read in µm or µin, as certificates state them.
        case Measure.MARGIN | Measure.DEVIATION:
            return _small(value, measure, SMALL_UNIT[unit], figure.rounding)
        case Measure.ANGLE:
            return read_angle(value, uncertainty=figure.uncertainty)
        case Measure.SECONDS:
            return f'{read_seconds(value, figure.rounding)}"'
        case _:
            return str(value)


def _small(value: int, measure: Measure, unit: SmallUnit, rounding: Rounding) -> str:
    if measure is Measure.MARGIN and rounding == "result":
        return f"{read_bound(value, unit)} {SIGNS[unit]}"
    sign = "+" if measure is Measure.DEVIATION and value > 0 else ""
    return f"{sign}{read_length(value, unit, rounding)} {SIGNS[unit]}"
