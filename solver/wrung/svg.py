"""The few elements of SVG that drawings are made of."""

from collections.abc import Iterable
from html import escape
from textwrap import wrap
from typing import Final

_LETTER: Final = 0.56
"""Width of a letter over its size: the average of usual fonts without serifs, rounded up."""


def number(value: float) -> str:
    """At most two decimals, as short as they can be written."""
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"


def element(name: str, content: str | None = None, **attributes: float | str) -> str:
    """An element; ``stroke_width=1`` is its attribute ``stroke-width``, ``class_`` its class.

    Presentation is always in attributes: a strict policy of content refuses styles.
    """
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}="
        f'"{escape(value) if isinstance(value, str) else number(value)}"'
        for key, value in attributes.items()
    )
    return f"<{name}{written}/>" if content is None else f"<{name}{written}>{content}</{name}>"


def text(x: float, y: float, words: str, *, size: int = 12, anchor: str = "start") -> str:
    """A line of words, its baseline at ``y``."""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{size}" text-anchor="{anchor}">'
        f"{escape(words)}</text>"
    )


def broken(words: str, width: float, size: float) -> list[str]:
    """The words in lines that are no wider."""
    return wrap(words, int(width / (size * _LETTER)), break_long_words=False)


def rectangle(x: float, y: float, width: float, height: float, fill: str) -> str:
    """A rectangle with a thin outline."""
    return (
        f'<rect x="{number(x)}" y="{number(y)}" width="{number(width)}" '
        f'height="{number(height)}" fill="{fill}" stroke="#333" stroke-width="0.75"/>'
    )


def box(x: float, y: float, width: float, height: float) -> str:
    """A rectangle as a part of a `path`."""
    across, down = number(width), number(height)
    return f"M{number(x)} {number(y)}h{across}v{down}h-{across}z"


def path(parts: Iterable[str], fill: str) -> str:
    """All boxes of one fill; nothing where there are none."""
    outline = "".join(parts)
    # Crisp edges, or else hair lines of the background shine through between columns.
    return f'<path fill="{fill}" shape-rendering="crispEdges" d="{outline}"/>' if outline else ""


def line(x: float, top: float, bottom: float) -> str:
    """A mark of an axis."""
    at = number(x)
    return (
        f'<line x1="{at}" y1="{number(top)}" x2="{at}" y2="{number(bottom)}" '
        'stroke="#333" stroke-width="0.75"/>'
    )
