"""Several drawings on one sheet, each under the name of what it is for."""

from collections.abc import Iterator, Sequence
from html import escape
from typing import Final

from msgspec import Struct

from wrung.stack_drawing.column import INK, PAPER
from wrung.stack_drawing.drawing import draw_stack
from wrung.stack_drawing.lettering import FIGURES
from wrung.stack_drawing.sheet import WIDTH
from wrung.stack_drawing.shown import StackDrawing
from wrung.svg import broken, element, number
from wrung.texts import phrase, word

_SIZE: Final = 15
_LINE: Final = 20
_MARGIN: Final = 8
_APART: Final = 14


class NamedDrawing(Struct, frozen=True, kw_only=True):
    """What a stack is for, and the stack; None where there is none."""

    name: str
    shown: StackDrawing | None


def draw_stacks(named: Sequence[NamedDrawing], *, language: str = "en") -> str:
    """All of them, one below the other, as SVG text.

    Args:
        named: in the order in which they are drawn.
        language: of the words, see `wrung.texts.languages`.

    Raises:
        InputError: at ``/language``, there are no words in it.
    """
    parts: list[str] = []
    y = float(_MARGIN)
    for each in named:
        for line in broken(each.name, WIDTH, _SIZE):
            y += _LINE
            parts.append(_words(y - 5, line))
        for part, height in _drawing(each, language, y):
            parts.append(part)
            y += height
        y += _APART
    wide = WIDTH + 2 * _MARGIN
    paper = element("rect", class_="paper", width=wide, height=y, fill=PAPER)
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {number(y)}" '
        f'width="{wide}" height="{number(y)}">'
    )
    return "\n".join((opening, paper, *parts, "</svg>"))


def _drawing(each: NamedDrawing, language: str, y: float) -> Iterator[tuple[str, float]]:
    if each.shown is None:
        yield _words(y + _LINE - 5, word(phrase("drawing.none"), language)), _LINE
        return
    drawing = draw_stack(each.shown, language=language)
    placed = drawing.replace("<svg ", f'<svg x="{_MARGIN}" y="{number(y)}" ', 1)
    yield placed, float(drawing.split('height="', 1)[1].split('"', 1)[0])


def _words(y: float, words: str) -> str:
    return element(
        "text", escape(words), class_="figure", x=_MARGIN, y=y, font_family=FIGURES,
        font_size=_SIZE, font_weight="bold", fill=INK,
    )  # fmt: skip
