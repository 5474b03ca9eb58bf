"""Puts the drawing of a stack together."""

from collections.abc import Iterator
from html import escape
from typing import Final
from zlib import crc32

from wrung.checked_types import typed
from wrung.measures import Measure
from wrung.stack_drawing.column import column
from wrung.stack_drawing.lettering import FONT
from wrung.stack_drawing.rows import label, rows
from wrung.stack_drawing.scale import heights
from wrung.stack_drawing.sheet import WIDTH, DrawnRow, Sheet, sheet
from wrung.stack_drawing.shown import DrawnBlock, StackDrawing
from wrung.svg import INK, broken, drawing, element
from wrung.texts import Figure, decimal_mark, figure, phrase, word

LEAST_LETTERING: Final = 8.0
_PITCH: Final = 52.0
_LEAST_PITCH: Final = 24.0
_HIGHEST: Final = 420.0
"""Rows become lower before a drawing becomes higher than a page of a phone."""
_FOOT: Final = 12.0


def sizes(blocks: int) -> float:
    """The height of a row where nothing else is asked for, in units of which the width has 300."""
    return max(_LEAST_PITCH, min(_PITCH, _HIGHEST / blocks))


@typed
def draw_stack(
    shown: StackDrawing,
    *,
    language: str = "en",
) -> str:
    """The drawing as SVG text.

    Args:
        shown: what is drawn, see `drawn`.
        language: of its words, see `wrung.texts.languages`.

    Raises:
        InputError: at ``/language``, there are no words in it.
    """
    return Drawing(shown, language=language, pitch=sizes(len(shown.blocks))).svg()


class Drawing:
    """One drawing, laid out as `draw_stack` makes it; all measures are units."""

    def __init__(
        self,
        shown: StackDrawing,
        *,
        language: str,
        pitch: float,
        least: float = LEAST_LETTERING,
    ) -> None:
        """Arguments as those of `draw_stack`."""
        self._shown, self._language = shown, language
        headings = self._say("drawing.engraved"), self._say("drawing.left")
        mark = decimal_mark(language)
        self._sheet: Sheet = sheet(shown, pitch, mark, self._part, headings, least)
        lengths = [abs(row.block.nominal) for row in self._sheet.rows]
        self._heights = heights(lengths, pitch)
        room = WIDTH - 8, self._sheet.label
        self._foot = [line for note in self._notes() for line in broken(note, *room)]

    @property
    def top(self) -> float:
        """Where its topmost row begins, for what stands beside the rows."""
        return self._sheet.top

    @property
    def is_legible(self) -> bool:
        """Whether there is room for all of it in lettering no smaller than the least."""
        return self._sheet.is_legible

    @property
    def height(self) -> float:
        """Of all of it, where it is `WIDTH` wide."""
        return self._sheet.plate + _FOOT + 1.4 * self._sheet.label * len(self._foot)

    def svg(self, **place: float) -> str:
        """As SVG text; ``x`` and ``y`` place it in another drawing."""
        wanted = figure("length", self._shown.length, Measure.LENGTH, "stated")
        title = self._say("drawing.title", wanted)
        # Every row in words, for those who do not see it.
        description = " ".join(map(self._row_in_words, self._sheet.rows))
        exact = self._shown.length == self._shown.nominal
        name = f"stack-{crc32(f'{title}{description}'.encode()):08x}"
        parts = (
            element("title", escape(title), id=f"{name}-title"),
            element("desc", escape(description), id=f"{name}-desc"),
            *column(self._sheet, self._heights),
            *rows(self._sheet, self._say, "drawing.wanted" if exact else "drawing.sum"),
            *self._foot_lines(),
        )
        return drawing(
            WIDTH, self.height, parts, role="img", class_="stack-drawing",
            aria_labelledby=f"{name}-title {name}-desc", font_family=FONT, fill=INK, **place,
        )  # fmt: skip

    def _foot_lines(self) -> Iterator[str]:
        size = self._sheet.label
        for place, line in enumerate(self._foot, start=1):
            yield label(4, self._sheet.plate + 8 + 1.4 * size * place, line, size)

    def _row_in_words(self, row: DrawnRow) -> str:
        part = f" {said}" if (said := self._part(row.block)) else ""
        return self._say(
            "drawing.row",
            figure("order", row.block.order),
            figure("block", f"{row.figure} {row.block.unit}{part}"),
            figure("left", row.left),
        )

    def _part(self, block: DrawnBlock) -> str:
        if block.is_wear_block:
            return self._say("drawing.wear")
        return self._say("drawing.step") if block.is_step else ""

    def _notes(self) -> Iterator[str]:
        """What the column of nominal lengths does not say."""
        shown = self._shown
        if shown.nominal != shown.length:
            wanted = figure("wanted", shown.length, Measure.LENGTH, "stated")
            off = figure("off", shown.nominal - shown.length, Measure.DEVIATION)
            yield _printed(self._say("drawing.off", wanted, off))
        if shown.deviation:
            off = figure("off", shown.deviation, Measure.DEVIATION)
            yield _printed(self._say("drawing.certified", off))
        if not self._heights.to_scale:
            yield self._say("drawing.not_to_scale")

    def _say(self, key: str, *figures: Figure) -> str:
        return word(phrase(key, *figures), self._language, self._shown.unit)


def _printed(text: str) -> str:
    """With a minus for a hyphen, and no line between a figure and its unit."""
    return text.replace(" -", " −").replace(" µ", "\u00a0µ")  # noqa: RUF001 - a minus sign
