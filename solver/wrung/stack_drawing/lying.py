"""A small drawing of a stack that lies, for a line of a table: its base on the left, no words."""

from collections.abc import Iterator
from typing import Final

from wrung.stack_drawing.column import stairs
from wrung.stack_drawing.scale import heights
from wrung.stack_drawing.shown import DrawnBlock, StackDrawing
from wrung.svg import INK, PAPER, cut, drawing, element, hatch, thin_path

_WIDTH: Final = 160
_HEIGHT: Final = 26
_EDGE: Final = 2
_TOOTH: Final = 4
_OUTLINE: Final = 1.6


def draw_lying(shown: StackDrawing) -> str:
    """As SVG text; to scale as `draw_stack`, with the longest broken where thin ones need it."""
    lengths = [abs(block.nominal) for block in shown.blocks]
    widths = heights(lengths, (_WIDTH - 2 * _EDGE) / len(lengths))
    parts: list[str] = []
    x = float(_EDGE)
    for place, (block, width) in enumerate(zip(shown.blocks, widths.heights, strict=True)):
        parts += _block(block, x, width, broken=place in widths.broken)
        x += width
    # Hidden from readers: the figures stand beside it.
    return drawing(_WIDTH, _HEIGHT, parts, class_="stack-drawing", aria_hidden="true")


def _block(block: DrawnBlock, x: float, width: float, *, broken: bool) -> Iterator[str]:
    y, height = _EDGE, _HEIGHT - 2 * _EDGE
    yield element(
        "rect", class_="wide", x=x, y=y, width=width, height=height, fill=PAPER, stroke=INK,
        stroke_width=_OUTLINE,
    )  # fmt: skip
    if block.is_wear_block:
        yield hatch(x, y, width, height, 6)
    if block.is_step:
        yield thin_path(stairs(x, y, width, height), "stairs")
    if broken:
        yield from _break(x + 0.4 * width, y, height)


def _break(x: float, y: float, height: float) -> Iterator[str]:
    """Two zigzag lines from top to bottom, and nothing between."""
    ys = (y - 1, y + 0.3 * height, y + 0.45 * height, y + 0.6 * height, y + 0.75 * height)
    xs = (0.0, 0.0, -_TOOTH, _TOOTH, 0.0, 0.0)
    points = zip(xs, (*ys, y + height + 1), strict=True)
    yield from cut([(x + dx, at) for dx, at in points], 4, 0)
