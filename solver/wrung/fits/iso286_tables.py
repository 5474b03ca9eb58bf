"""The tables of ISO 286-1: standard tolerances, and how far a letter's zone is from the size.

Figures are worked out by the standard's formulae, but for those that it prints otherwise, which
`data/iso286.toml` keeps with their reasons.
"""

from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from itertools import pairwise, repeat
from typing import Final

from msgspec import Struct

from wrung.fits.iso286_formulae import SizeRange, by_formula
from wrung.lengths import QUANTA, um
from wrung.tables import ByRange, Checked, load

IT01: Final = -1
"""The grade IT01, which is finer than IT0, as a whole number."""
COARSEST: Final = 18
_TENFOLD: Final = 12
"""From IT12 on a standard tolerance is ten times the one five grades finer (ISO 286-1)."""
_ENDS: Final = frozenset({3, 10, 500, 3150})
_NONE: Final = "-"
_COMPUTED: Final = "="


class Tables:
    """The standard's tables in quanta."""

    def __init__(self, data: "_Data") -> None:
        self._rows: dict[str, ByRange[int]] = {}
        for edges, rows in ((data.main_ranges, data.main), (data.fine_ranges, data.fine)):
            ranges = [SizeRange(over, up_to) for over, up_to in pairwise((0, *edges))]
            for name, printed in rows.items():
                self._rows[name] = self._row(name, ranges, printed)

    @property
    def letters(self) -> tuple[str, ...]:
        """The letters with a distance of their own, as shafts have them."""
        # All other rows have a grade in their name.
        return tuple(name for name in self._rows if name.isalpha())

    def tolerance(self, nominal: int, grade: int) -> int | None:
        """The standard tolerance; None if there is none for this size."""
        if grade < _TENFOLD:
            return self._rows["IT01" if grade == IT01 else f"IT{grade}"].at(nominal)
        finer = self.tolerance(nominal, grade - 5)
        return None if finer is None else 10 * finer

    def distance(self, letter: str) -> ByRange[int]:
        """How far the tolerance zone is from the nominal size, by the small letter."""
        return self._rows[letter]

    def around(self, name: str) -> ByRange[int] | None:
        """The deviation nearer to the nominal size of a class J or j."""
        return self._rows.get(name)

    def _row(self, name: str, ranges: list[SizeRange], printed: str) -> ByRange[int]:
        cells = [cell for each in printed.split() for cell in _cells(each)]
        # A cell too few or too many would shift all after it; rows end at these sizes.
        if len(cells) > len(ranges) or ranges[len(cells) - 1].up_to not in _ENDS:
            raise ValueError(f"a row of ISO 286 has {len(cells)} values")
        return ByRange(
            edges=tuple(_mm(each.up_to) for each in ranges),
            values=tuple(
                self._value(name, sizes, cell) for sizes, cell in zip(ranges, cells, strict=False)
            ),
        )

    def _value(self, name: str, sizes: SizeRange, cell: str) -> int | None:
        if cell == _COMPUTED:
            return by_formula(name, sizes, self._in_um) * QUANTA["um"]
        return None if cell == _NONE else um(cell)

    def _in_um(self, name: str, sizes: SizeRange) -> Decimal:
        return Decimal(self._rows[name].at(_mm(sizes.up_to)) or 0) / QUANTA["um"]


class _Data(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    checked: Checked
    main_ranges: list[int]
    fine_ranges: list[int]
    main: dict[str, str]
    fine: dict[str, str]


def _cells(printed: str) -> Iterator[str]:
    # "=5" stands for five figures that the formulae give.
    run = printed.removeprefix(_COMPUTED)
    return repeat(printed, 1) if run == printed else repeat(_COMPUTED, int(run))


def _mm(size: int) -> int:
    return size * QUANTA["mm"]


@cache
def tables() -> Tables:
    """The tables, worked out once."""
    return Tables(load("iso286.toml", _Data))
