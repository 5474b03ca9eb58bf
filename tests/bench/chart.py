"""Times over sizes as charts side by side, both axes logarithmic; an SVG with its own ground."""

import math
from collections.abc import Iterator, Sequence
from html import escape
from typing import Final

from msgspec import Struct

HEIGHT: Final = 430
LEFT: Final = 64
TOP: Final = 64
PLOT_WIDTH: Final = 370
PLOT_HEIGHT: Final = 250
APART: Final = 80
MARGIN: Final = 36
FASTEST_MS: Final = 1.0
SLOWEST_MS: Final = 5_000.0
COLOURS: Final = ("#0b6bb5", "#b3470f")
STYLE: Final = (
    "text{font:12px system-ui,sans-serif;fill:#24292f}.h{font-weight:600;font-size:14px}"
    ".s{font-size:10.5px}.p{font-size:8.5px}.g{stroke:#d5d8dc}"
    ".l{stroke:#57606a;stroke-dasharray:6 4}"
)


class Point(Struct, frozen=True, kw_only=True):
    """Times in ms; ``proven`` the share of requests that were proven, 0 to 1."""

    size: int
    median: float
    worst: float
    proven: float


class Series(Struct, frozen=True, kw_only=True):
    """Points of ascending size."""

    name: str
    points: tuple[Point, ...]


class Chart(Struct, frozen=True, kw_only=True):
    """Series over one axis of sizes."""

    title: str
    axis: str
    series: tuple[Series, ...]


def draw(charts: Sequence[Chart], limit_ms: float, note: str) -> str:
    """The charts in a row, the time limit in each, and a note under them."""
    width = LEFT + len(charts) * (PLOT_WIDTH + APART) - APART + MARGIN
    body = [
        part
        for place, chart in enumerate(charts)
        for part in _Plot(chart, LEFT + place * (PLOT_WIDTH + APART)).parts(limit_ms)
    ]
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {HEIGHT}" role="img">',
            f"<title>Time to a plan</title><desc>{escape(note)}</desc>",
            f"<style>{STYLE}</style>",
            f'<rect width="{width}" height="{HEIGHT}" rx="8" fill="#fbfbf9"/>',
            *body,
            _text(LEFT, HEIGHT - 14, note, "s"),
            "</svg>\n",
        )
    )


class _Plot:
    """One chart at its place."""

    def __init__(self, chart: Chart, left: int) -> None:
        self._chart = chart
        self._left = left
        self._sizes = [point.size for point in chart.series[0].points]

    def parts(self, limit_ms: float) -> Iterator[str]:
        """Its elements, from back to front."""
        yield _text(self._left, 26, self._chart.title, "h")
        yield from self._grid()
        yield _line(self._left, self._y(limit_ms), self._left + PLOT_WIDTH, "l")
        yield _text(self._left + 4, self._y(limit_ms) - 5, f"time limit {limit_ms:.0f} ms", "s")
        for number, series in enumerate(self._chart.series):
            yield from self._curve(series, number)

    def _x(self, size: float) -> float:
        first, last = math.log(self._sizes[0]), math.log(self._sizes[-1])
        return self._left + 14 + (PLOT_WIDTH - 28) * (math.log(size) - first) / (last - first)

    def _y(self, ms: float) -> float:
        part = math.log(max(ms, FASTEST_MS) / FASTEST_MS) / math.log(SLOWEST_MS / FASTEST_MS)
        return TOP + PLOT_HEIGHT * (1 - part)

    def _grid(self) -> Iterator[str]:
        for ms in (1, 10, 100, 1000):
            yield _line(self._left, self._y(ms), self._left + PLOT_WIDTH, "g")
            yield _text(self._left - 6, self._y(ms) + 4, f"{ms} ms", "s", anchor="end")
        for size in self._sizes:
            yield _text(self._x(size), TOP + PLOT_HEIGHT + 16, str(size), "s", anchor="middle")
        yield _text(
            self._left + PLOT_WIDTH / 2, TOP + PLOT_HEIGHT + 34, self._chart.axis, anchor="middle"
        )

    def _curve(self, series: Series, number: int) -> Iterator[str]:
        """Medians joined, strokes up to the worst, and under the axis the shares proven."""
        colour, shift = COLOURS[number], 3 * (2 * number - 1)
        places = [(self._x(p.size) + shift, self._y(p.median)) for p in series.points]
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
        yield f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2"/>'
        below = TOP + PLOT_HEIGHT + 54 + 15 * number
        yield _text(self._left - 6, below, "proven, %", "s", anchor="end", colour=colour)
        for (x, y), point in zip(places, series.points, strict=True):
            worst, share = self._y(point.worst), f"{100 * point.proven:.0f}"
            yield f'<path d="M{x:.1f} {y:.1f}V{worst:.1f}m-3 0h6" fill="none" stroke="{colour}"/>'
            yield _mark(x, y, colour, number)
            yield _text(x - shift, below, share, "p", anchor="middle", colour=colour)
        key = self._left + 10 + 120 * number
        yield _mark(key, 44, colour, number)
        yield _text(key + 10, 48, series.name, "s", colour=colour)


def _mark(x: float, y: float, colour: str, number: int) -> str:
    """A disc, or a square: colours alone would not do for everyone."""
    if number:
        return f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8" fill="{colour}"/>'
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{colour}"/>'


def _line(left: float, y: float, right: float, style: str) -> str:
    return f'<path class="{style}" d="M{left:.1f} {y:.1f}H{right:.1f}"/>'


def _text(  # noqa: PLR0913 - where, what and how
    x: float, y: float, text: str, style: str = "", *, anchor: str = "start", colour: str = ""
) -> str:
    fill = f' style="fill:{colour}"' if colour else ""
    return (
        f'<text class="{style}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{fill}>'
        f"{escape(text)}</text>"
    )
