"""ANSI B4.1: limits of hole and shaft from a nominal size in inches and a fit such as RC4."""

from decimal import Decimal
from functools import cache
from typing import Final

from msgspec import Struct

from wrung.checked_types import typed
from wrung.errors import InputError
from wrung.fits.limits import SizeLimits
from wrung.lengths import QUANTA, inch, to_text
from wrung.tables import ByRange, Checked, load

_FINE: Final = "FN"
_NONE: Final = "-"
_MARKS: Final = "~?"
_CHECKED: Final[dict[str, Checked]] = {
    "yes": "yes",
    "partly": "partly",
    "no": "no",
    # Of a single figure: worked out, or from memory.
    "~": "partly",
    "?": "no",
}
_THOUSANDTH: Final = QUANTA["in"] // 1000


class InchFit(Struct, frozen=True, kw_only=True):
    """A fit of the standard.

    Attributes:
        hole: its limits.
        shaft: its limits.
        checked: how far these figures were compared with print.
    """

    hole: SizeLimits
    shaft: SizeLimits
    checked: Checked


@typed
def inch_fit(nominal: int, fit_class: str) -> InchFit:
    """The limits of hole and shaft.

    Args:
        nominal: nominal size, quanta; over 0, up to 19.69 in.
        fit_class: ``"RC1"`` to ``"RC9"``, ``"LC1"`` to ``"LC11"``, ``"LT1"`` to ``"LT6"``,
            ``"LN1"`` to ``"LN3"`` or ``"FN1"`` to ``"FN5"``; also in small letters, or with a gap.

    Raises:
        InputError: at ``/nominal`` or ``/fit_class``, there are no such limits.
    """
    table = _table()
    name = fit_class.replace(" ", "").upper()
    if name not in table.fits:
        detail = (
            f"no fit {fit_class[:20]!r} in ANSI B4.1; there are RC1 to RC9, LC1 to LC11, LT1 to "
            "LT6, LN1 to LN3 and FN1 to FN5"
        )
        raise InputError.at("/fit_class", detail)
    if not 0 < nominal <= table.largest:
        largest, size = to_text(table.largest, "in"), to_text(nominal, "in")
        detail = f"ANSI B4.1 has fits here for sizes to {largest} in, not {size} in"
        raise InputError.at("/nominal", detail)
    return _fit(table, name, nominal)


class _Table(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    ranges: str
    fine_ranges: str
    holes: dict[str, str]
    fits: dict[str, str]

    def __post_init__(self) -> None:
        """Refuse a row with a shaft too few or too many, which would shift all after it."""
        for name, row in self.fits.items():
            values = len(row.split()) - 2
            if values != len(self.edges(name)):
                raise ValueError(f"a row of ANSI B4.1 has {values} values")

    def edges(self, name: str = "") -> tuple[int, ...]:
        """Upper ends of the ranges of a fit, and of all holes, quanta."""
        ranges = self.fine_ranges if name.startswith(_FINE) else self.ranges
        return tuple(map(inch, ranges.split()))

    @property
    def largest(self) -> int:
        """The largest size, quanta."""
        return self.edges()[-1]


def _fit(table: _Table, name: str, nominal: int) -> InchFit:
    hole, checked, *printed = table.fits[name].split()
    values = tuple(None if each == _NONE else each for each in printed)
    shafts = ByRange(edges=table.edges(name), values=values)
    shaft = shafts.at(nominal)
    if shaft is None:
        over = to_text(shafts.span[0], "in")
        detail = f"ANSI B4.1 gives {name} for sizes over {over} in"
        raise InputError.at("/fit_class", detail)
    lower, upper = shaft.rstrip(_MARKS).split(":")
    holes = ByRange(edges=table.edges(), values=tuple(table.holes[hole].split()))
    return InchFit(
        hole=_limits(nominal, "0", holes.at(nominal) or "0"),
        shaft=_limits(nominal, lower, upper),
        checked=_CHECKED[shaft[-1] if shaft[-1] in _MARKS else checked],
    )


def _limits(nominal: int, lower: str, upper: str) -> SizeLimits:
    """Limits by deviations in thousandths of an inch."""
    low, high = (int(Decimal(each) * _THOUSANDTH) for each in (lower, upper))
    return SizeLimits(nominal=nominal, lower_deviation=low, upper_deviation=high)


@cache
def _table() -> _Table:
    return load("ansi_b41.toml", _Table)
