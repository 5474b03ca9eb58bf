"""The few elements of SVG that drawings are made of."""

from collections.abc import Iterable, Iterator, Sequence
from html import escape
from textwrap import wrap
from typing import Final

INK: Final = "#000"
PAPER: Final = "#fff"
_GREY: Final = "#333"
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


def drawing(width: float, height: float, parts: Iterable[str], **attributes: float | str) -> str:
    """A drawing of its own, on paper; titles come first among its parts."""
    paper = element("rect", class_="paper", width=width, height=height, fill=PAPER)
    titled = list(parts)
    names = sum(each.startswith(("<title", "<desc")) for each in titled)
    content = "\n".join(("", *titled[:names], paper, *titled[names:], ""))
    return element(
        "svg", content, xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {number(width)} {number(height)}", width=width, height=height, **attributes,
    )  # fmt: skip


def text(
    x: float,
    y: float,
    words: str,
    *,
    size: float = 12,
    anchor: str = "start",
    **attributes: float | str,
) -> str:
    """A line of words, its baseline at ``y``."""
    return element(
        "text", escape(words), x=x, y=y, font_size=size, text_anchor=anchor, **attributes
    )


def thin_path(outline: str, name: str) -> str:
    """Thin lines, and what they are."""
    return element(
        "path", class_=f"thin {name}", d=outline, fill="none", stroke=INK, stroke_width=1
    )


def cut(points: Sequence[tuple[float, float]], dx: float, dy: float) -> Iterator[str]:
    """A line across what is cut short, the same line a little further, and nothing between."""
    first = [f"{number(x)} {number(y)}" for x, y in points]
    second = [f"{number(x + dx)} {number(y + dy)}" for x, y in points]
    gap = "M" + "L".join([*first, *reversed(second)]) + "z"
    yield element("path", class_="gap", d=gap, fill=PAPER, stroke="none")
    yield thin_path("".join("M" + "L".join(line) for line in (first, second)), "break")


def hatch(x: float, y: float, width: float, height: float, pitch: float) -> str:
    """Lines at 45 degrees over a rectangle, each spelt out: a pattern would blur in print."""
    lines: list[str] = []
    at = pitch
    while at < width + height:
        # From the left or the lower edge up to the upper or the right one.
        left, down = max(0.0, at - height), min(at, height)
        right, up = min(at, width), max(0.0, at - width)
        lines.append(f"M{number(x + left)} {number(y + down)}L{number(x + right)} {number(y + up)}")
        at += pitch
    return thin_path("".join(lines), "hatch")


def broken(words: str, width: float, size: float) -> list[str]:
    """The words in lines that are no wider."""
    return wrap(words, int(width / (size * _LETTER)), break_long_words=False)


def rectangle(x: float, y: float, width: float, height: float, fill: str) -> str:
    """A rectangle with a thin outline."""
    return element(
        "rect", x=x, y=y, width=width, height=height, fill=fill, stroke=_GREY, stroke_width=0.75
    )


def box(x: float, y: float, width: float, height: float) -> str:
    """A rectangle as a part of a `path`."""
    across, down = number(width), number(height)
    return f"M{number(x)} {number(y)}h{across}v{down}h-{across}z"


def path(parts: Iterable[str], fill: str) -> str:
    """All boxes of one fill; nothing where there are none."""
    outline = "".join(parts)
    # Crisp edges, or else hair lines of the background shine through between columns.
    if not outline:
        return ""
    return element("path", fill=fill, shape_rendering="crispEdges", d=outline)


def line(x: float, top: float, bottom: float) -> str:
    """A mark of an axis."""
    return element("line", x1=x, y1=top, x2=x, y2=bottom, stroke=_GREY, stroke_width=0.75)
