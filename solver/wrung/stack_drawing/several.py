"""Several drawings on one sheet, each under the name of what it is for."""

from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from wrung.stack_drawing.drawing import Drawing, sizes
from wrung.stack_drawing.lettering import FONT
from wrung.stack_drawing.sheet import WIDTH
from wrung.stack_drawing.shown import StackDrawing
from wrung.svg import INK, broken, drawing, text
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
        part, height = _drawing(each, language, y)
        parts.append(part)
        y += height + _APART
    return drawing(WIDTH + 2 * _MARGIN, y, parts)


def _drawing(each: NamedDrawing, language: str, y: float) -> tuple[str, float]:
    """What stands below a name, and how high it is."""
    if each.shown is None:
        return _words(y + _LINE - 5, word(phrase("drawing.none"), language)), _LINE
    one = Drawing(each.shown, language=language, pitch=sizes(len(each.shown.blocks)))
    return one.svg(x=_MARGIN, y=y), one.height


def _words(y: float, words: str) -> str:
    return text(
        _MARGIN, y, words, size=_SIZE, class_="figure", font_family=FONT, font_weight="bold",
        fill=INK,
    )  # fmt: skip
