"""The drawings of a card, with no lettering below 2.5 mm (ISO 3098 has it as a height)."""

from typing import Final

from msgspec import Struct

from wrung.stack_drawing import Drawing, StackDrawing, draw_lying, sizes
from wrung.stack_drawing.sheet import WIDTH

_CAPITAL: Final = 0.75
"""Height of a capital over the size of the lettering, of B612 and Routed Gothic."""
_LEAST_MM: Final = 2.5
_PITCH: Final = 50
_BESIDE_MM: Final = 62.0
_BESIDE_HEIGHTS: Final = (218, 165, 120)
"""Of all rows, units: as high as a card has room for beside short and long instructions."""
_ALONE_MM: Final = 91.0
_ALONE_HEIGHT: Final = 230


class Picture(Struct, frozen=True, kw_only=True):
    """A drawing as SVG; its height over its width is known before anybody reads it."""

    svg: str
    proportion: float


class CardDrawings(Struct, frozen=True, kw_only=True):
    """One stack, drawn as SVG for each place that it may have.

    Attributes:
        beside: narrow, with the list of blocks at its right; from the highest down, only those
            that are legible.
        alone: as wide as a card, or for a screen.
        lying: for a line of a set-up sheet.
    """

    beside: tuple[Picture, ...] = ()
    alone: Picture | None = None
    lying: str = ""


def card_drawings(shown: StackDrawing, language: str) -> CardDrawings:
    """Those for a card."""
    least, wide = _least(_BESIDE_MM), _least(_ALONE_MM)
    pitches = dict.fromkeys(_pitch(shown, high, least) for high in _BESIDE_HEIGHTS)
    beside = [Drawing(shown, language=language, pitch=p, least=least) for p in pitches]
    pitch = _pitch(shown, _ALONE_HEIGHT, wide)
    return CardDrawings(
        beside=tuple(_picture(each) for each in beside if each.is_legible),
        alone=_picture(Drawing(shown, language=language, pitch=pitch, least=wide)),
    )


def screen_drawings(shown: StackDrawing, language: str) -> CardDrawings:
    """That for a screen, which has room below."""
    pitch = sizes(len(shown.blocks))
    return CardDrawings(alone=_picture(Drawing(shown, language=language, pitch=pitch)))


def line_drawings(shown: StackDrawing, _: str) -> CardDrawings:
    """That for a line of a sheet, which has no words."""
    return CardDrawings(lying=draw_lying(shown))


def _picture(drawing: Drawing) -> Picture:
    return Picture(svg=drawing.svg(), proportion=drawing.height / WIDTH)


def _least(across: float) -> float:
    """Size of the smallest lettering in units of a drawing that is so many mm wide."""
    return _LEAST_MM / _CAPITAL * WIDTH / across


def _pitch(shown: StackDrawing, high: float, least: float) -> float:
    return min(_PITCH, max(1.15 * least, high / len(shown.blocks)))
