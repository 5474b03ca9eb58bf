"""The blocks as they stand on the plate, with the sum as a dimension beside them."""

from collections.abc import Iterator
from typing import Final

from wrung.handwork.wringing import MARKED_ON_FACE
from wrung.stack_drawing.lettering import FONT, width
from wrung.stack_drawing.scale import Heights
from wrung.stack_drawing.sheet import DrawnRow, Sheet
from wrung.svg import INK, PAPER, cut, element, hatch, number, text, thin_path

WIDE_LINE: Final = 2
THIN_LINE: Final = 1
_PLATE: Final = 2.6
_BREAK_AT: Final = 0.3
_APART: Final = 0.15
"""Of the pitch: between the two lines of a break."""
_ROOM: Final = 1.25
"""A figure stands in a block that is higher than so many heights of it."""


def column(sheet: Sheet, heights: Heights) -> Iterator[str]:
    """The blocks from the top down, the plate, and the dimension; ``heights`` likewise."""
    y = sheet.top
    for place, (row, height) in enumerate(zip(sheet.rows, heights.heights, strict=True)):
        broken = place in heights.broken
        yield from _block(sheet, row, y, height, broken=broken)
        yield from _leader(sheet, row, place, y, height, broken=broken)
        y += height
    yield from _plate(sheet)
    yield from _dimension(sheet)


def _block(sheet: Sheet, row: DrawnRow, y: float, height: float, *, broken: bool) -> Iterator[str]:
    x, across = sheet.block_at, sheet.block_width
    yield element(
        "rect", class_="steel", x=x, y=y, width=across, height=height, fill=PAPER, stroke="none"
    )
    if row.block.is_wear_block:
        yield hatch(x, y, across, height, max(6, 0.15 * sheet.pitch))
    if row.block.is_step:
        yield thin_path(stairs(x, y, across, height), "stairs")
    yield element(
        "rect", class_="wide", x=x, y=y, width=across, height=height, fill="none", stroke=INK,
        stroke_width=WIDE_LINE,
    )  # fmt: skip
    if _has_figure(sheet, row, height, broken=broken):
        below = _above_figure(sheet, height, broken=broken)
        size = _inside(sheet, row)
        middle = y + below + (height - below) / 2
        yield lettered(x + across / 2, middle + size * 0.375, row.figure, size, "middle")
    if broken:
        yield from _break(sheet, y + _BREAK_AT * height)


def stairs(x: float, y: float, across: float, height: float) -> str:
    """Where lower steps of a step block end beside the one in use."""
    thirds = [across * part / 3 for part in (1, 2)]
    lower, upper = y + height * 2 / 3, y + height / 3
    return (
        f"M{number(x)} {number(lower)}H{number(x + thirds[0])}V{number(upper)}"
        f"H{number(x + thirds[1])}V{number(y)}"
    )


def _has_figure(sheet: Sheet, row: DrawnRow, height: float, *, broken: bool) -> bool:
    """Only where the real block has it on its side, and there is room for it."""
    size = _inside(sheet, row)
    return (
        not (row.block.is_wear_block or row.block.is_step)
        and row.block.nominal >= MARKED_ON_FACE
        and height - _above_figure(sheet, height, broken=broken) > _ROOM * size
        and size >= sheet.least
    )


def _above_figure(sheet: Sheet, height: float, *, broken: bool) -> float:
    """What the break takes of a block, with its teeth."""
    return _BREAK_AT * height + _APART * sheet.pitch + 0.5 * _tooth(sheet) if broken else 0


def _tooth(sheet: Sheet) -> float:
    return min(0.12 * sheet.pitch, 7)


def _inside(sheet: Sheet, row: DrawnRow) -> float:
    room = (sheet.block_width - 10) / width(row.figure, 1)
    return min(max(0.8 * sheet.figure, sheet.least), room)


def lettered(  # noqa: PLR0913, PLR0917 - where, what and how, as in SVG itself
    x: float, y: float, written: str, size: float, anchor: str, weight: str = "bold"
) -> str:
    """A figure, its baseline at ``y``."""
    return text(
        x, y, written, size=size, anchor=anchor, class_="figure", font_family=FONT,
        font_weight=weight, fill=INK,
    )  # fmt: skip


def _break(sheet: Sheet, y: float) -> Iterator[str]:
    """Two zigzag lines across the block and a little beyond, and nothing between."""
    beyond = 0.1 * sheet.pitch
    left, right = sheet.block_at - beyond, sheet.block_at + sheet.block_width + beyond
    tooth = _tooth(sheet)
    middle = (left + right) / 2
    xs = (left, middle - tooth, middle - tooth / 3, middle + tooth / 3, middle + tooth, right)
    ys = (0.0, 0.0, -tooth, tooth, 0.0, 0.0)
    yield from cut([(a, y + b) for a, b in zip(xs, ys, strict=True)], 0, _APART * sheet.pitch)


def _leader(  # noqa: PLR0913 - the block it comes from and the row it goes to
    sheet: Sheet, row: DrawnRow, place: int, y: float, height: float, *, broken: bool
) -> Iterator[str]:
    """From the block to the number of its row: a dot in it, or an arrow where a figure stands."""
    edge, end = sheet.block_at + sheet.block_width, sheet.balloon - sheet.radius
    to = sheet.middle(place)
    arrow = _has_figure(sheet, row, height, broken=broken)
    # Below the break, which would cross it, and clear of the lines between blocks.
    at = y + height * (0.75 if broken else 0.5)
    start = edge if arrow else edge - min(9, 0.2 * sheet.block_width)
    bend = edge + 0.4 * (end - edge)
    yield thin_path(
        f"M{number(start)} {number(at)}L{number(bend)} {number(at if not arrow else to)}"
        f"L{number(end)} {number(to)}",
        "leader",
    )
    if arrow:
        yield _arrow(edge, at, (bend - edge, to - at))
    else:
        yield element("circle", class_="dot", cx=start, cy=at, r=min(2.4, height / 3), fill=INK)


def _arrow(x: float, y: float, towards: tuple[float, float], size: float = 6) -> str:
    """A head with its tip at the point, on a line that leaves it in that direction."""
    length = (towards[0] ** 2 + towards[1] ** 2) ** 0.5
    dx, dy = (size * each / length for each in towards)
    points = [
        (x, y),
        (x + dx - dy * 0.3, y + dy + dx * 0.3),
        (x + dx + dy * 0.3, y + dy - dx * 0.3),
    ]
    outline = "M" + "L".join(f"{number(a)} {number(b)}" for a, b in points) + "z"
    return element("path", class_="dot", d=outline, fill=INK)


def _plate(sheet: Sheet) -> Iterator[str]:
    left, right, y = sheet.block_at - 16, sheet.block_at + sheet.block_width + 8, sheet.plate
    yield element(
        "line", class_="wide plate", x1=left, y1=y, x2=right, y2=y, stroke=INK, stroke_width=_PLATE
    )
    step = 9
    ticks = range(int(left) + step, int(right), step)
    yield thin_path("".join(f"M{x} {number(y)}L{x - 7} {number(y + 7)}" for x in ticks), "hatch")


def _dimension(sheet: Sheet) -> Iterator[str]:
    """The sum, to be read from the right; it stands over the rows, too, if it has no room here."""
    x, top, bottom = sheet.block_at - 10, sheet.top, sheet.plate
    size = min(max(0.72 * sheet.figure, sheet.least), (bottom - top - 2) / width(sheet.sum, 1))
    if size < sheet.least:
        return
    yield thin_path(
        f"M{number(x)} {number(top)}V{number(bottom)}"
        f"M{number(x - 4)} {number(top)}H{number(sheet.block_at - 2)}",
        "dimension",
    )
    yield _arrow(x, top, (0, 1), 7)
    yield _arrow(x, bottom, (0, -1), 7)
    middle = (top + bottom) / 2
    yield text(
        x - 4, middle, sheet.sum, size=size, anchor="middle", class_="figure", font_family=FONT,
        fill=INK, transform=f"rotate(-90 {number(x - 4)} {number(middle)})",
    )  # fmt: skip
