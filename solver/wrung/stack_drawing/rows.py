"""Beside the blocks: order of wringing, figure, origin, and what is left of the length."""

from collections.abc import Callable, Iterator

from wrung.stack_drawing.column import THIN_LINE, WIDE_LINE, lettered
from wrung.stack_drawing.lettering import FONT, WORD_FONT, width
from wrung.stack_drawing.sheet import DrawnRow, Sheet
from wrung.svg import INK, PAPER, element, text


def rows(sheet: Sheet, say: Callable[[str], str], of_sum: str) -> Iterator[str]:
    """The headings, then a row a block from the top down; the last ends in nought.

    Args:
        sheet: the measures.
        say: the words of a key.
        of_sum: the key of what stands before the sum.
    """
    yield from _headings(sheet, say, of_sum)
    for place, row in enumerate(sheet.rows):
        yield from _row(sheet, row, place)
    last = sheet.plate - 0.5 * sheet.pitch + 0.5 * sheet.figure
    start = sheet.left - width(sheet.rows[-1].left, sheet.figure) - 2
    for below in (2.0, 5.0):
        yield _line(start, last + below, sheet.left, THIN_LINE)


def _headings(sheet: Sheet, say: Callable[[str], str], of_sum: str) -> Iterator[str]:
    y = sheet.label
    yield label(sheet.balloon + sheet.radius, y, say("drawing.order"), sheet.label, "end")
    yield label(sheet.engraved, y, say("drawing.engraved"), sheet.label, "end")
    yield label(sheet.left, y, say("drawing.left"), sheet.label, "end")
    second = sheet.top - 0.3 * sheet.figure
    start = sheet.left - width(sheet.sum, sheet.figure) - 6
    yield label(start, second, say(of_sum), sheet.label, "end")
    yield lettered(sheet.left, second, sheet.sum, sheet.figure, "end")
    yield _line(sheet.balloon - sheet.radius, sheet.top, sheet.left, WIDE_LINE)


def _row(sheet: Sheet, row: DrawnRow, place: int) -> Iterator[str]:
    middle, last = sheet.middle(place), place == len(sheet.rows) - 1
    baseline = middle + 0.375 * sheet.figure
    if sheet.ringed:
        yield element(
            "circle", class_="balloon", cx=sheet.balloon, cy=middle, r=sheet.radius, fill=PAPER,
            stroke=INK, stroke_width=1.5,
        )  # fmt: skip
    below = middle + 0.375 * sheet.number
    yield lettered(sheet.balloon, below, str(row.block.order), sheet.number, "middle")
    yield from _engraved(sheet, row, middle)
    weight = "bold" if last else "normal"
    yield lettered(sheet.left, baseline, row.left, sheet.figure, "end", weight)
    line = WIDE_LINE if last else THIN_LINE
    yield _line(sheet.balloon - sheet.radius, middle + sheet.pitch / 2, sheet.left, line)


def _engraved(sheet: Sheet, row: DrawnRow, middle: float) -> Iterator[str]:
    baseline = middle + (0.15 if sheet.notes_below and row.note else 0.375) * sheet.figure
    yield lettered(sheet.engraved, baseline, row.figure, sheet.figure, "end")
    if sheet.notes_below and row.note:
        yield label(sheet.engraved, baseline + 1.1 * sheet.label, row.note, sheet.label, "end")
    elif row.note:
        start = sheet.engraved - width(row.figure, sheet.figure) - 0.4 * sheet.label
        yield label(start, baseline, row.note, sheet.label, "end")


def label(x: float, y: float, words: str, size: float, anchor: str = "start") -> str:
    """Words; in the lettering of words unless there are figures in them."""
    family = FONT if any(map(str.isdigit, words)) else WORD_FONT
    return text(x, y, words, size=size, anchor=anchor, class_="label", font_family=family, fill=INK)


def _line(start: float, y: float, end: float, wide: float) -> str:
    name = "wide" if wide == WIDE_LINE else "thin"
    return element("line", class_=name, x1=start, y1=y, x2=end, y2=y, stroke=INK, stroke_width=wide)
