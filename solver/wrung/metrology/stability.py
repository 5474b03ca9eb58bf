"""How far a block's length may change in a year (ISO 3650, dimensional stability)."""

from functools import cache
from typing import Final

from msgspec import Struct

from wrung.blocks import Block
from wrung.lengths import QUANTA, um
from wrung.tables import Sourced, load

STABILITY_SOURCE: Final = "ISO 3650:1998, 6.2.4"
"""Names the clause on dimensional stability (by the contents page of BS EN ISO 3650:1999)."""


def change_a_year(block: Block) -> float:
    """Largest change of the block in a year, quanta; the widest where its grade is not known."""
    base, share = _rows().get(block.grade or "", _rows()[""])
    return base + share * block.nominal


class _Row(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    grades: list[str]
    base: str
    per_mm: str


class _Table(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    rows: list[_Row]


@cache
def _rows() -> dict[str, tuple[int, float]]:
    """By grade, quanta and the share of the nominal length; other blocks under an empty name."""
    return {
        grade: (um(row.base), float(row.per_mm) * QUANTA["um"] / QUANTA["mm"])
        for row in load("stability.toml", _Table).rows
        for grade in row.grades or [""]
    }
