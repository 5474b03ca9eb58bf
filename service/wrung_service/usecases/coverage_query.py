"""A request for coverage, once read."""

from datetime import date

from msgspec import Struct

from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.coverage import LengthGrid
from wrung.lengths import Unit
from wrung.metrology import Overdue
from wrung.targets import WearBlocks


class CoverageQuery(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.coverage_of`, and how to draw what it finds.

    Attributes:
        left_out: overdue blocks, which ``exclude`` names, too.
        used_on: the day they are overdue on; None where no block has dates.
        picture: whether it is drawn.
        unit: of the lengths in the drawing.
        language: of its words.
    """

    blocks: tuple[Block, ...]
    grid: LengthGrid
    max_blocks: int | None
    wear_blocks: WearBlocks
    exclude: tuple[str, ...]
    only: tuple[str, ...] | None
    offers: tuple[Wanted, ...] | None
    max_runs: int
    max_gaps: int
    time_limit_ms: int
    left_out: tuple[Overdue, ...] = ()
    used_on: date | None = None
    picture: bool = False
    unit: Unit = "mm"
    language: str = "en"
