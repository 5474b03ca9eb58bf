"""How far a block's length may change in a year (ISO 3650, dimensional stability)."""

from functools import cache
from typing import Final

from msgspec import Struct

from wrung.blocks import Block
from wrung.lengths import QUANTA, um
from wrung.tables import Checked, load

STABILITY_SOURCE: Final = "ISO 3650:1998, 6.2.4"
"""Names the clause on dimensional stability (by the contents page of BS EN ISO 3650:1999)."""


class Stability(Struct, frozen=True, kw_only=True):
    """Largest change a year: ``base`` quanta plus ``share`` of the nominal length."""

    base: int
    share: float

    def change_a_year(self, nominal: int) -> float:
        """Largest change of a block of that nominal length in a year, quanta."""
        return self.base + self.share * nominal


def stability_of(block: Block) -> Stability:
    """The row for the block's grade; the widest where the grade is not known."""
    rows = _rows()
    return rows.get(block.grade or "", rows[""])


class _Row(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    grades: list[str]
    base: str
    per_mm: str


class _Table(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    source: str
    checked: Checked
    rows: list[_Row]


@cache
def _rows() -> dict[str, Stability]:
    """Rows by grade; that of all other blocks under an empty name."""
    return {
        grade: Stability(base=um(row.base), share=float(row.per_mm) * QUANTA["um"] / QUANTA["mm"])
        for row in load("stability.toml", _Table).rows
        for grade in row.grades or [""]
    }
