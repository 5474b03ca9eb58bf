"""D-SI values: numbers with a unit and an uncertainty, alone or as lists, in both spellings.

Up to D-SI 2.1 an expanded uncertainty is an ``expandedUnc``, from 2.2 on an ``expandedMU`` within
``measurementUncertaintyUnivariate``. Names as in the schemas of the PTB, read in public examples
and programs; not checked against the schema files themselves.
"""

from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Final

from msgspec import Struct

from wrung.metrology.certificates.limits import MOST_BLOCKS
from wrung.metrology.certificates.report import UnreadableError
from wrung.metrology.certificates.safe_xml import Element

SI: Final = "{https://ptb.de/si}"

UNITS_MM: Final[dict[str, Decimal]] = {
    r"\metre": Decimal(1000),
    r"\centi\metre": Decimal(10),
    r"\milli\metre": Decimal(1),
    r"\micro\metre": Decimal("1e-3"),
    r"\nano\metre": Decimal("1e-6"),
}
"""Units of length that are read, in millimetres."""

_MOST_DIGITS: Final = 40
_LARGEST_EXPONENT: Final = 30


class DsiValue(Struct, frozen=True, kw_only=True):
    """A length with what is stated of its uncertainty; mm.

    Attributes:
        value: the length.
        expanded_uncertainty: expanded uncertainty, with ``factor``.
        factor: coverage factor.
        standard: standard uncertainty, if stated instead.
    """

    value: Decimal
    expanded_uncertainty: Decimal | None = None
    factor: Decimal | None = None
    standard: Decimal | None = None


_UNIVARIATE: Final = "measurementUncertaintyUnivariate{list}/"
_SPELLINGS: Final = (
    ("expandedUnc{list}", "uncertainty", True),
    (_UNIVARIATE + "expandedMU{list}", "valueExpandedMU", True),
    (_UNIVARIATE + "standardMU{list}", "valueStandardMU", False),
    ("coverageInterval{list}", "standardUnc", False),
    (_UNIVARIATE + "coverageIntervalMU{list}", "valueStandardMU", False),
)
"""Where each spelling keeps an uncertainty: a path, then its name, and whether it is expanded."""


def values_of(quantity: Element) -> tuple[DsiValue, ...]:
    """The lengths of a quantity: one of ``si:real``, many of a list; none if it has neither.

    Of a ``si:hybrid``, which states a quantity in several units, the first in a unit known here.

    Raises:
        UnreadableError: the numbers, their unit or their uncertainties cannot be read.
    """
    hybrid = quantity.find(f"{SI}hybrid")
    if hybrid is not None:
        return _of_hybrid(hybrid)
    reals = [*quantity.findall(f"{SI}real"), *quantity.findall(f"{SI}list/{SI}real")]
    if len(reals) > MOST_BLOCKS:
        raise UnreadableError(f"has more than {MOST_BLOCKS} values.")
    if reals:
        return tuple(value for real in reals for value in _values(real, ""))
    lists = quantity.findall(f"{SI}realListXMLList")
    if len(lists) > MOST_BLOCKS:
        raise UnreadableError(f"has more than {MOST_BLOCKS} lists.")
    return tuple(value for each in lists for value in _values(each, "XMLList"))


def _of_hybrid(hybrid: Element) -> tuple[DsiValue, ...]:
    fault = UnreadableError("has no unit of length.")
    for each in hybrid:
        try:
            return _values(each, "XMLList" if each.tag.endswith("XMLList") else "")
        except UnreadableError as error:
            fault = error
    raise fault


def _values(element: Element, suffix: str) -> tuple[DsiValue, ...]:
    values = _numbers(element, f"value{suffix}")
    scales = _spread([_scale(unit) for unit in _words(element, f"unit{suffix}")], len(values))
    lengths = [value * scale for value, scale in zip(values, scales, strict=True)]
    for path, name, is_expanded in _SPELLINGS:
        found = _find(element, path.format(list=suffix))
        if found is not None:
            stated = _spread(_numbers(found, f"{name}{suffix}"), len(values))
            sizes = [size * scale for size, scale in zip(stated, scales, strict=True)]
            each = zip(lengths, sizes, strict=True)
            if not is_expanded:
                return tuple(DsiValue(value=value, standard=size) for value, size in each)
            factors = _numbers(found, f"coverageFactor{suffix}")
            spread = _spread(factors, len(values)) if factors else [None] * len(values)
            return tuple(
                DsiValue(value=value, expanded_uncertainty=size, factor=factor)
                for (value, size), factor in zip(each, spread, strict=True)
            )
    return tuple(DsiValue(value=value) for value in lengths)


def _spread(given: Sequence[Decimal], count: int) -> Sequence[Decimal]:
    """One figure holds for all values, else there must be one for each."""
    if len(given) == 1:
        return [given[0]] * count
    if len(given) != count:
        raise UnreadableError(
            f"has {count} values, but {len(given)} units, uncertainties or factors."
        )
    return given


def _scale(unit: str) -> Decimal:
    if unit not in UNITS_MM:
        raise UnreadableError(f"has the unit {unit[:40]!r}, which is no length known here.")
    return UNITS_MM[unit]


def _find(element: Element, path: str) -> Element | None:
    return element.find("/".join(SI + name for name in path.split("/")))


def _words(element: Element, name: str) -> list[str]:
    words = (element.findtext(f"{SI}{name}") or "").split()
    # Before each becomes a number: a list can be as long as the document.
    if len(words) > MOST_BLOCKS:
        raise UnreadableError(f"has more than {MOST_BLOCKS} values.")
    return words


def _numbers(element: Element, name: str) -> list[Decimal]:
    return [_number(word) for word in _words(element, name)]


def _number(word: str) -> Decimal:
    """A number of XML Schema; exponents are common here, but bounded."""
    try:
        # Decimal also reads the digits of other scripts, which XML Schema does not know.
        number = Decimal(word) if len(word) <= _MOST_DIGITS and word.isascii() else None
    except InvalidOperation:
        number = None
    # Decimal takes underscores and infinity as numbers, too; no certificate means them.
    if number is None or not number.is_finite() or "_" in word:
        raise UnreadableError(f"has {word[:40]!r}, which is no number.")
    # Before it is written out: 1e999999999 would be that many digits of plain text.
    if abs(number.adjusted()) > _LARGEST_EXPONENT:
        raise UnreadableError(f"has {word[:40]!r}, which is out of all proportion.")
    return number
