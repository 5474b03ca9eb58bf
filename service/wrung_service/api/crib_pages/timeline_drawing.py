"""The timeline as SVG: black on white by its attributes; classes only colour it on the screen."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from html import escape
from typing import Final

from msgspec import Struct

from wrung.stack_drawing.lettering import FONT
from wrung.svg import INK, PAPER, drawing, element, hatch, text
from wrung_service.api.crib_pages.moments import Calendar
from wrung_service.api.crib_pages.timeline import Bar, TimeRow
from wrung_service.usecases.look_at_crib import Shift

_SIZE: Final = 14
_LETTER: Final = 0.62
"""Width of a letter over its size; rounded up."""
_ROW: Final = 34
_BAR: Final = 24
_LOWER: Final = 6
"""A bar that clashes is set lower by so much."""
_TOP: Final = 34
_HOUR: Final = timedelta(hours=1)
_MOST_LABEL: Final = 14
_CUT: Final = ".."
_LEAST: Final = 3
"""Letters of a word that is cut."""


class _Field(Struct, frozen=True, kw_only=True):
    """Where the hours are: the first at ``left``, the last at ``right``."""

    shift: Shift
    left: float
    right: float
    bottom: float
    now: datetime

    def x(self, at: datetime) -> float:
        """Where a moment is."""
        part = (at - self.shift.starts_at) / (self.shift.ends_at - self.shift.starts_at)
        return self.left + part * (self.right - self.left)

    @property
    def has_now(self) -> bool:
        """Whether the moment is in the shift."""
        return self.shift.starts_at <= self.now <= self.shift.ends_at


def draw_timeline(
    rows: Sequence[TimeRow], shift: Shift, calendar: Calendar, *, width: int, title: str
) -> str:
    """The rows from the top, ``width`` units wide."""
    labels = [_label(row) for row in rows]
    left = 16 + _SIZE * _LETTER * max(map(len, labels), default=0)
    bottom = _TOP + _ROW * len(rows)
    field = _Field(shift=shift, left=left, right=width - 22, bottom=bottom, now=calendar.now)
    parts = [
        element("title", escape(title)),
        *_hours(field, calendar),
        # Under the bars, or it would strike their figures through.
        *_now(field, calendar),
        *(part for place, row in enumerate(rows) for part in _row(field, place, row, calendar)),
    ]
    return drawing(width, bottom + 8, parts, class_="timeline", role="img")


def _label(row: TimeRow) -> str:
    cut = row.figure[: _MOST_LABEL - len(_CUT)] + _CUT
    return row.figure if len(row.figure) <= _MOST_LABEL else cut


def _hours(field: _Field, calendar: Calendar) -> Iterator[str]:
    """A line an hour; its time where there is room beside that of now."""
    last: float | None = None
    at = field.shift.starts_at
    while at <= field.shift.ends_at:
        x, words = field.x(at), calendar.clock(at)
        yield _line(x, _TOP - 6, x, field.bottom, "thin")
        room = _half(words) * 2 + 8
        near_now = field.has_now and abs(x - field.x(field.now)) < _half(words) + _now_half(
            calendar
        )
        if not near_now and (last is None or x - last > room):
            yield _text(x, _TOP - 12, words, anchor="middle")
            last = x
        at += _HOUR


def _row(field: _Field, place: int, row: TimeRow, calendar: Calendar) -> Iterator[str]:
    y = _TOP + place * _ROW
    yield _line(field.left, y + _ROW, field.right, y + _ROW, "thin")
    yield _text(field.left - 8, y + 22, _label(row), anchor="end", bold=True)
    for bar in row.bars:
        yield from _bar(field, y + 5 + (_LOWER if bar.clash else 0), bar, calendar)


def _bar(field: _Field, y: float, bar: Bar, calendar: Calendar) -> Iterator[str]:
    x, end = field.x(bar.starts_at), field.x(bar.ends_at)
    black = bar.look == "now"
    height = _BAR - (2 if bar.clash else 0)
    yield element(
        "rect",
        class_=f"bar {bar.look}{' clash' if bar.clash else ''}",
        x=x,
        y=y,
        width=max(end - x, 2),
        height=height,
        fill=INK if black else PAPER,
        stroke=INK,
        stroke_width=2,
        stroke_dasharray="6 3" if bar.look == "promised" else "none",
    )
    words = _words(bar, calendar, end - x)
    if bar.look == "lent":
        free = 2 * _half(words) + 10 if words else 0
        yield hatch(x + free, y, end - x - free, height, 8)
        if words:
            yield _text(x + 6, y + 17, words)
    elif words:
        yield _text((x + end) / 2, y + 17, words, anchor="middle", paper=black)


def _words(bar: Bar, calendar: Calendar, width: float) -> str:
    """The most of what there is to say that fits."""
    said = calendar.said
    tried = [bar.word]
    if bar.look == "lent":
        until = said("until", at=calendar.moment(bar.until)) if bar.until else ""
        until = said("look.late") if bar.late else until
        what = f"{said('look.lent')}: {bar.word}" if bar.word else said("look.lent")
        tried = [f"{what}, {until}" if until else what, what, said("look.lent")]
    if bar.clash:
        tried = [f"{said('clash')} {tried[0]}", said("clash"), *tried]
    room = int((width - 2) / (_SIZE * _LETTER))
    whole = next((each for each in tried if each and len(each) <= room), None)
    if whole is None and bar.look != "lent" and room >= _LEAST + len(_CUT):
        return bar.word[: room - len(_CUT)] + _CUT
    return whole or ""


def _now(field: _Field, calendar: Calendar) -> Iterator[str]:
    if not field.has_now:
        return
    x, half = field.x(field.now), _now_half(calendar)
    middle = min(max(x, half), field.right + 22 - half)
    yield element(
        "line", class_="now", x1=x, y1=_TOP - 6, x2=x, y2=field.bottom, stroke=INK,
        stroke_width=2, stroke_dasharray="12 3 2 3",
    )  # fmt: skip
    yield element(
        "rect", class_="bar now", x=middle - half, y=4, width=2 * half, height=_TOP - 10, fill=INK,
        stroke="none",
    )  # fmt: skip
    yield _text(middle, _TOP - 12, _now_words(calendar), anchor="middle", paper=True)


def _now_words(calendar: Calendar) -> str:
    return f"{calendar.said('now')} {calendar.clock(calendar.now)}"


def _now_half(calendar: Calendar) -> float:
    return _half(_now_words(calendar)) + 6


def _half(words: str) -> float:
    return len(words) * _SIZE * _LETTER / 2


def _line(x1: float, y1: float, x2: float, y2: float, kind: str) -> str:
    return element("line", class_=kind, x1=x1, y1=y1, x2=x2, y2=y2, stroke=INK, stroke_width=1)


def _text(  # noqa: PLR0913 - as SVG has it
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "start",
    bold: bool = False,
    paper: bool = False,
) -> str:
    weight = {"font_weight": "700"} if bold or paper else {}
    return text(
        x,
        y,
        words,
        size=_SIZE,
        anchor=anchor,
        class_="on-ink" if paper else "ink",
        font_family=FONT,
        fill=PAPER if paper else INK,
        **weight,
    )
