"""Deviations of a block from certificate to certificate, each with its uncertainty, as SVG."""

from collections.abc import Iterator, Sequence
from datetime import date
from html import escape
from typing import Final

from msgspec import Struct

from wrung.grades import Limits
from wrung.lengths import SMALL_UNIT, Unit
from wrung.rounding import read_length
from wrung.stack_drawing.lettering import FONT
from wrung.svg import INK, drawing, element, number, text
from wrung_service.api.crib_pages.members import Members

FEWEST: Final = 3
"""Two certificates make no trend."""
_WIDTH, _HEIGHT = 420, 240
_LEFT, _RIGHT, _TOP, _BOTTOM = 92, 40, 20, 44
_SIZE: Final = 14
_MOST_DATES: Final = 4
_FAR: Final = 3
"""Times the limit: a mark beyond would press all others together, so an arrow stands for it."""


class TrendPoint(Struct, frozen=True, kw_only=True):
    """A certified deviation, quanta, with its expanded uncertainty, 0 if that is not known."""

    on: date
    deviation: int
    uncertainty: int


def draw_trend(
    points: Sequence[TrendPoint], known: Limits | None, unit: Unit, members: Members
) -> str:
    """The chart; at least `FEWEST` points, by their days. ``known`` are limits, if they are."""
    field = _field(points, known, unit, members)
    parts = (
        element("title", escape(members.calendar.said("trend"))),
        *_levels(field, known),
        *_dates(field, points),
        _joined(field, points),
        *(part for each in points for part in _mark(field, each)),
    )
    return drawing(_WIDTH, _HEIGHT, parts, class_="timeline trend", role="img")


class _Field(Struct, frozen=True, kw_only=True):
    first: date
    days: int
    highest: int
    unit: Unit
    members: Members

    def x(self, on: date) -> float:
        return _LEFT + (on - self.first).days / self.days * (_WIDTH - _LEFT - _RIGHT)

    def y(self, deviation: int) -> float:
        inside = max(-self.highest, min(deviation, self.highest))
        middle = (_TOP + _HEIGHT - _BOTTOM) / 2
        return middle - inside / self.highest * (_HEIGHT - _BOTTOM - _TOP) / 2

    def written(self, deviation: int) -> str:
        text = read_length(deviation, SMALL_UNIT[self.unit], "stated")
        size = self.members.small(text, self.unit)
        return f"+{size}" if deviation > 0 else size


def _field(
    points: Sequence[TrendPoint], known: Limits | None, unit: Unit, members: Members
) -> _Field:
    """Nought in the middle, so that the sign is seen; the largest of all at the edge."""
    most = [abs(each.deviation) + each.uncertainty for each in points]
    limit = 0 if known is None else max(known.upper, -known.lower)
    near = [each for each in most if each <= _FAR * limit] if limit else most
    first = points[0].on
    return _Field(
        first=first,
        days=max(1, (points[-1].on - first).days),
        # Above a limit there is room for the arrow of what lies far beyond it.
        highest=max(1, limit * 5 // 4, *near),
        unit=unit,
        members=members,
    )


def _levels(field: _Field, known: Limits | None) -> Iterator[str]:
    edges = (field.highest, -field.highest) if known is None else (known.upper, known.lower)
    for level in sorted({0, *edges}):
        y = field.y(level)
        dashes = "none" if level == 0 or known is None else "12 4"
        yield element(
            "line", class_="thin", x1=_LEFT, y1=y, x2=_WIDTH - _RIGHT, y2=y, stroke=INK,
            stroke_width=1, stroke_dasharray=dashes,
        )  # fmt: skip
        yield _text(_LEFT - 8, y + 5, field.written(level), "end")


def _dates(field: _Field, points: Sequence[TrendPoint]) -> Iterator[str]:
    """The months of certificates, where there is room for them."""
    last: float | None = None
    for each in points:
        x = field.x(each.on)
        if last is None or x - last > (_WIDTH - _LEFT - _RIGHT) / _MOST_DATES:
            yield _text(x, _HEIGHT - 14, f"{each.on.year}-{each.on.month:02}", "middle")
            last = x


def _joined(field: _Field, points: Sequence[TrendPoint]) -> str:
    line = " ".join(f"{number(field.x(e.on))},{number(field.y(e.deviation))}" for e in points)
    return element("polyline", class_="now", points=line, fill="none", stroke=INK, stroke_width=2)


def _mark(field: _Field, each: TrendPoint) -> Iterator[str]:
    if abs(each.deviation) > field.highest:
        yield from _arrow(field, each)
        return
    x = field.x(each.on)
    top, bottom = (
        field.y(each.deviation + each.uncertainty),
        field.y(each.deviation - each.uncertainty),
    )
    if each.uncertainty:
        for y1, y2, half in ((top, bottom, 0), (top, top, 5), (bottom, bottom, 5)):
            yield element(
                "line", class_="thin", x1=x - half, y1=y1, x2=x + half, y2=y2, stroke=INK,
                stroke_width=1,
            )  # fmt: skip
    yield element(
        "circle", class_="bar now", cx=x, cy=field.y(each.deviation), r=5, fill=INK, stroke=INK
    )


def _arrow(field: _Field, each: TrendPoint) -> Iterator[str]:
    """A mark that has no place: an arrow at the edge, and its figure."""
    x, y = field.x(each.on), field.y(each.deviation)
    foot = y + 10 if each.deviation > 0 else y - 10
    corners = (
        f"{number(x - 6)},{number(foot)} {number(x + 6)},{number(foot)} {number(x)},{number(y)}"
    )
    yield element("polygon", class_="bar now", points=corners, fill=INK, stroke=INK)
    left = x > (_LEFT + _WIDTH - _RIGHT) / 2
    anchor = "end" if left else "start"
    yield _text(x - 10 if left else x + 10, y + 5, field.written(each.deviation), anchor)


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return text(x, y, words, size=_SIZE, anchor=anchor, class_="ink", font_family=FONT, fill=INK)
