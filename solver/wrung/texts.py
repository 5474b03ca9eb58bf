"""What is said to a person: phrases by key, worded in a language by a data file each.

A phrase holds its figures as quanta, so that one answer can be read out in any language and unit.
A further language is one file ``data/texts/xx.toml`` with the same keys.
"""

from functools import cache
from importlib.resources import files
from typing import Final

from msgspec import Struct

from wrung.angles import to_dms, to_seconds
from wrung.errors import Fault, InputError
from wrung.lengths import SMALL_UNIT, AnyUnit, Unit, to_text
from wrung.measures import Measure
from wrung.tables import load

_SIGNS: Final[dict[AnyUnit, str]] = {"mm": "mm", "in": "in", "um": "µm", "uin": "µin"}


class Figure(Struct, frozen=True, kw_only=True):
    """A value in a phrase.

    Attributes:
        name: its place in the wording.
        value: quanta of ``measure``, or decimal text of a ratio; a whole number or a name where
            there is no measure.
        measure: what it measures.
    """

    name: str
    value: int | str
    measure: Measure | None = None


class Phrase(Struct, frozen=True, kw_only=True):
    """Something to say: the key of its wording, and the figures in it."""

    key: str
    figures: tuple[Figure, ...] = ()


def phrase(key: str, *figures: Figure) -> Phrase:
    """A phrase with its figures."""
    return Phrase(key=key, figures=figures)


def figure(name: str, value: int | str, measure: Measure | None = None) -> Figure:
    """A figure of a phrase."""
    return Figure(name=name, value=value, measure=measure)


@cache
def languages() -> tuple[str, ...]:
    """The languages there are wordings in, such as ``"en"``."""
    names = (entry.name for entry in files("wrung").joinpath("data", "texts").iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def keys(language: str) -> frozenset[str]:
    """Every key that the language has a wording for."""
    return frozenset(_wordings(language).phrases)


def word(said: Phrase, language: str = "en", unit: Unit = "mm") -> str:
    """The phrase in words, its lengths in ``unit`` and its small unit.

    Raises:
        InputError: at ``/language``, there are no wordings in it.
    """
    wordings = _wordings(language)
    figures = {each.name: _figure(each, unit, wordings.decimal_mark) for each in said.figures}
    return wordings.phrases[said.key].format_map(figures)


class _Wordings(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    decimal_mark: str
    phrases: dict[str, str]


@cache
def _wordings(language: str) -> _Wordings:
    # By the files there are, since what the caller names becomes part of a path.
    if language not in languages():
        detail = f"there is no text in {language[:20]!r}; there is {', '.join(languages())}"
        raise InputError([Fault(pointer="/language", detail=detail)])
    return load(f"texts/{language}.toml", _Wordings)


def _figure(figure: Figure, unit: Unit, decimal_mark: str) -> str:
    if figure.measure is None:
        return str(figure.value)
    if isinstance(figure.value, str):
        return figure.value.replace(".", decimal_mark)
    return _measured(figure.value, figure.measure, unit).replace(".", decimal_mark)


def _measured(value: int, measure: Measure, unit: Unit) -> str:
    match measure:
        case Measure.LENGTH | Measure.DIFFERENCE:
            return f"{to_text(value, unit)} {_SIGNS[unit]}"
        # Deviations are read in µm or µin, as certificates state them.
        case Measure.DEVIATION | Measure.MARGIN:
            small = SMALL_UNIT[unit]
            return f"{to_text(value, small)} {_SIGNS[small]}"
        case Measure.ANGLE:
            return to_dms(value)
        case Measure.SECONDS:
            return f'{to_seconds(value)}"'
        case Measure.RATIO | Measure.TEMPERATURE:
            return str(value)
