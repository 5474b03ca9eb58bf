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
    return _fit(table.fits[name], nominal, name)


class _Shaft(Struct, frozen=True, kw_only=True):
    lower: int
    upper: int
    checked: Checked


class _Fit(Struct, frozen=True, kw_only=True):
    hole: ByRange[int]
    shaft: ByRange[_Shaft]


class _Table(Struct, frozen=True, kw_only=True):
    largest: int
    fits: dict[str, _Fit]


class _Printed(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    ranges: str
    fine_ranges: str
    holes: dict[str, str]
    fits: dict[str, str]


def _fit(found: _Fit, nominal: int, name: str) -> InchFit:
    shaft, upper = found.shaft.at(nominal), found.hole.at(nominal)
    if shaft is None:
        over = to_text(found.shaft.span[0], "in")
        detail = f"ANSI B4.1 gives {name} for sizes over {over} in"
        raise InputError.at("/fit_class", detail)
    return InchFit(
        hole=SizeLimits(nominal=nominal, lower_deviation=0, upper_deviation=upper or 0),
        shaft=SizeLimits(nominal=nominal, lower_deviation=shaft.lower, upper_deviation=shaft.upper),
        checked=shaft.checked,
    )


def _read(printed: _Printed) -> _Table:
    main = tuple(map(inch, printed.ranges.split()))
    fine = tuple(map(inch, printed.fine_ranges.split()))
    holes = {
        name: ByRange(edges=main, values=tuple(map(_quanta, row.split())))
        for name, row in printed.holes.items()
    }
    return _Table(
        largest=main[-1],
        fits={
            name: _read_fit(row, fine if name.startswith(_FINE) else main, holes)
            for name, row in printed.fits.items()
        },
    )


def _read_fit(printed: str, ranges: tuple[int, ...], holes: dict[str, ByRange[int]]) -> _Fit:
    hole, checked, *values = printed.split()
    shafts = tuple(_read_shaft(each, checked) for each in values)
    if len(shafts) != len(ranges):
        raise ValueError(f"a row of ANSI B4.1 has {len(shafts)} values")
    return _Fit(hole=holes[hole], shaft=ByRange(edges=ranges, values=shafts))


def _read_shaft(printed: str, checked: str) -> _Shaft | None:
    if printed == _NONE:
        return None
    lower, upper = printed.rstrip(_MARKS).split(":")
    own = _CHECKED[printed[-1] if printed[-1] in _MARKS else checked]
    return _Shaft(lower=_quanta(lower), upper=_quanta(upper), checked=own)


def _quanta(thousandths: str) -> int:
    return int(Decimal(thousandths) * _THOUSANDTH)


@cache
def _table() -> _Table:
    return _read(load("ansi_b41.toml", _Printed))
