"""Where everything stands on the sheet: one column of blocks, a row of figures for each."""

from collections.abc import Callable
from functools import partial
from typing import Final

from msgspec import Struct

from wrung.lengths import Unit
from wrung.markings import engraved
from wrung.stack_drawing.lettering import decimals, width, written
from wrung.stack_drawing.shown import DrawnBlock, StackDrawing

WIDTH: Final = 300
"""Units; a drawing 60 mm wide has 0.2 mm a unit, and lines of 0.4 and 0.2 mm."""
_LARGEST: Final = 24
_SMALLEST: Final = 9
_BLOCK_AT: Final = 30
_NARROWEST: Final = 42
_WIDEST: Final = 76
_LEADER: Final = 24
_IN_RING: Final = 1.2
"""Size of a number over the radius of its ring; the least radii over the size are below."""
_RING: Final = 0.66
_WIDE_RING: Final = 0.76
_TWO_DIGITS: Final = 10
_LETTER: Final = 0.55
"""Width of a letter of the words over their size, on average; rounded up."""
_TWO_LINES: Final = 1.75
"""A row of so many heights of its figure has room for a line below."""
_READABLE: Final = 12
"""Size of figures that names of sets may not push below; on 60 mm, 2.4 mm."""
_ORIGINS: Final = (None, 24, 16, 8)
"""Longest names of sets, in letters: the first that leaves room."""
_CUT: Final = ".."


class DrawnRow(Struct, frozen=True, kw_only=True):
    """What stands beside a block; the note below its figure, or before it in a low row."""

    block: DrawnBlock
    figure: str
    note: str
    left: str


class Sheet(Struct, frozen=True, kw_only=True):
    """The measures of one drawing, in units.

    Attributes:
        rows: from the top block down.
        figure: size of the figures; ``label`` that of the words.
        least: size of the smallest lettering.
        notes_below: whether notes stand below the figures of the blocks.
        radius: of the numbers of the order, with their rings if they are ``ringed``.
        number: size of these numbers.
    """

    rows: tuple[DrawnRow, ...]
    sum: str
    pitch: float
    figure: float
    label: float
    least: float
    notes_below: bool
    block_width: float
    balloon: float
    radius: float
    number: float
    ringed: bool
    engraved: float
    left: float = WIDTH - 4
    block_at: float = _BLOCK_AT

    @property
    def is_legible(self) -> bool:
        """Whether no figure is smaller than the least, and there is room for the blocks."""
        return self.figure >= self.least and self.block_width >= _NARROWEST

    @property
    def top(self) -> float:
        """Where the topmost row begins: below the headings."""
        return self.label * 1.5 + self.figure * 1.35

    @property
    def plate(self) -> float:
        """Where the stack stands."""
        return self.top + self.pitch * len(self.rows)

    def middle(self, place: int) -> float:
        """Of a row, counted from the top."""
        return self.top + self.pitch * (place + 0.5)


def sheet(  # noqa: PLR0913, PLR0917 - what is drawn, in which words, and how large
    shown: StackDrawing,
    pitch: float,
    decimal_mark: str,
    part: Callable[[DrawnBlock], str],
    headings: tuple[str, str],
    least: float = 8,
) -> Sheet:
    """The sheet with the largest figures that have room beside the blocks.

    Args:
        shown: what is drawn.
        pitch: height of a row, units.
        decimal_mark: of the language.
        part: the word for a wear block or a step; nothing for any other block.
        headings: the words over the columns of engraved figures and of what is left.
        least: size of the smallest lettering, units.
    """
    places = decimals([shown.length, shown.nominal, *shown.left], shown.unit)
    several = len({block.origin for block in shown.blocks}) > 1 or pitch >= _TWO_LINES * _LARGEST
    texts = [
        written(each, shown.unit, places, decimal_mark) for each in (shown.nominal, shown.length)
    ]
    laid_out = partial(_laid_out, texts=texts, pitch=pitch, headings=headings, least=least)

    def with_origins(most: int | None) -> Sheet:
        rows = tuple(
            DrawnRow(
                block=block,
                figure=engraved(block.nominal, block.unit, decimal_mark, block.marking),
                note=_note(block, shown.unit, part(block), most),
                left=written(left, shown.unit, places, decimal_mark),
            )
            for block, left in zip(reversed(shown.blocks), shown.left, strict=True)
        )
        return _largest(partial(laid_out, rows), max(_SMALLEST, least))

    *longer, shortest = _ORIGINS if several else (0,)
    for most in longer:
        made = with_origins(most)
        if made.is_legible and made.figure >= min(_READABLE, pitch / 1.15):
            return made
    return with_origins(shortest)


def _largest(with_figures: Callable[[float], Sheet], least: float) -> Sheet:
    size = float(_LARGEST)
    while (made := with_figures(size)).block_width < _NARROWEST and size > least:
        size -= 0.5
    return made


def _note(block: DrawnBlock, unit: Unit, part: str, most: int | None) -> str:
    """What part it is, its unit where others have another, and where it comes from."""
    parts = (part, block.unit if block.unit != unit else "", _within(block.origin, most))
    return " ".join(filter(None, parts))


def _within(origin: str, most: int | None) -> str:
    """Without its middle where it is too long: names differ at their ends, as serial numbers do."""
    if most is None or len(origin) <= most:
        return origin
    half = (most - len(_CUT)) // 2
    return f"{origin[:half]}{_CUT}{origin[-half:]}" if most else ""


def _laid_out(  # noqa: PLR0913 - as `sheet`, for one size of the figures
    rows: tuple[DrawnRow, ...],
    size: float,
    *,
    texts: list[str],
    pitch: float,
    headings: tuple[str, str],
    least: float,
) -> Sheet:
    figure = min(size, pitch / 1.15)
    label = max(figure * 0.6, least)
    below = pitch >= max(_TWO_LINES * figure, 1.05 * figure + 1.25 * label)
    notes = [len(row.note) * _LETTER * label for row in rows]
    beside = [
        0 if below or not row.note else note + 0.4 * label
        for row, note in zip(rows, notes, strict=True)
    ]
    words = [len(heading) * _LETTER * label for heading in headings]
    widest = max(
        words[0],
        *(notes if below else ()),
        *(width(row.figure, figure) + note for row, note in zip(rows, beside, strict=True)),
    )
    left = max(words[1], *(width(text, figure) for text in (*texts, *(row.left for row in rows))))
    radius, number, ringed = _numbers(len(rows), figure, pitch, least)
    engraved_at = WIDTH - 4 - left - figure * 0.45
    balloon = engraved_at - widest - figure * 0.3 - radius
    free = balloon - radius - _LEADER - _BLOCK_AT
    return Sheet(
        rows=rows,
        sum=texts[0],
        pitch=pitch,
        figure=figure,
        label=label,
        least=least,
        notes_below=below,
        # What a narrow stack does not need goes to the leaders.
        block_width=min(free, _WIDEST),
        balloon=balloon,
        radius=radius,
        number=number,
        ringed=ringed,
        engraved=engraved_at,
    )


def _numbers(rows: int, figure: float, pitch: float, least: float) -> tuple[float, float, bool]:
    """Radius and size of the numbers of the order, and whether rings have room around them."""
    radius = min(figure * 0.55, pitch * 0.42)
    if _IN_RING * radius >= least:
        return radius, _IN_RING * radius, True
    radius = least * (_RING if rows < _TWO_DIGITS else _WIDE_RING)
    if radius <= pitch * 0.5:
        return radius, least, True
    return width(str(rows), least) / 2 + 1, least, False
