"""Which standards an answer rests on, with their editions where our sources say them."""

import re
from collections.abc import Iterable, Iterator
from typing import Final

from wrung.blocks import Block
from wrung.grades import grade
from wrung.targets import CheckPointsTarget, FitTarget, GeneralToleranceTarget, InchFitTarget
from wrung_service.api.records.shape import StandardUsed
from wrung_service.usecases.stack_query import StackQuery

_EDITION: Final = re.compile(
    r"(?P<designation>.*?)(?:[:-](?P<year>[0-9]{4})|(?<=-[0-9]{2})(?P<letter>[A-Z]))?"
)
"""``ISO 3650:1998``, or ``GGG-G-15C``: federal specifications have letters for editions."""
# Of 1951, 1975 and 2022 (titles in the catalogue of ISO); 20 degC in all three.
_USUAL: Final = StandardUsed(designation="ISO 1", edition="2022", used_for="reference temperature")
# The copy that the table names is one of EN ISO 286-1, which is that of 2010 (CEN, 2010-04-01).
_FITS: Final = StandardUsed(
    designation="ISO 286-1", edition="2010", used_for="limits of size of a tolerance class"
)
# Machinery's Handbook names it with this year; it was reaffirmed to 2009.
_INCH_FITS: Final = StandardUsed(
    designation="ANSI B4.1", edition="1967", used_for="limits of size of a fit"
)
# There was only this edition of part 1 (title in the catalogue of ISO).
_GENERAL: Final = StandardUsed(
    designation="ISO 2768-1", edition="1989", used_for="general tolerances"
)
_BUDGETS: Final = StandardUsed(
    designation="JCGM 100", edition="2008", used_for="uncertainty budgets"
)
_DECISIONS: Final = StandardUsed(
    designation="ISO 14253-1", edition="2017", used_for="decisions on part tolerances"
)


def standards_used(query: StackQuery, used: Iterable[Block]) -> tuple[StandardUsed, ...]:
    """Each once, in a fixed order."""
    found = (
        _USUAL,
        *_of_grades(used),
        *_of_targets(query),
        *((_BUDGETS,) if query.budgets or query.purposes else ()),
        *((_DECISIONS,) if query.purposes else ()),
    )
    return tuple(dict.fromkeys(found))


def _of_grades(used: Iterable[Block]) -> Iterator[StandardUsed]:
    for block in used:
        if block.deviation is None and block.limit_deviation is None and block.grade is not None:
            name = block.grade
            yield _split(grade(name, block.unit).standard, f"limits of grade {name}")


def _of_targets(query: StackQuery) -> Iterator[StandardUsed]:
    for target in query.targets:
        if isinstance(target, FitTarget):
            yield _FITS
        if isinstance(target, InchFitTarget):
            yield _INCH_FITS
        if isinstance(target, GeneralToleranceTarget):
            yield _GENERAL
        if isinstance(target, CheckPointsTarget) and target.standard is not None:
            yield _split(target.standard, "limits of error of an instrument")


def _split(text: str, used_for: str) -> StandardUsed:
    """A name of a standard as designation and edition, if it states one."""
    found = _EDITION.fullmatch(text)
    assert found is not None  # noqa: S101 - everything matches
    return StandardUsed(
        designation=found["designation"],
        edition=found["year"] or found["letter"],
        used_for=used_for,
    )
