"""Puts the drawing together."""

from collections.abc import Iterator, Sequence
from typing import Final
from zlib import crc32

from wrung import svg
from wrung.checked_types import typed
from wrung.coverage.answer import MOST_BLOCKS, LengthGrid, Reach
from wrung.coverage.picture.columns import Column, GridRow, grid_rows, marks
from wrung.coverage.picture.wording import Wording, grouped, shades
from wrung.lengths import Unit
from wrung.texts import phrase

# As wide as a phone shows without making the words too small to read.
_WIDTH: Final = 420
_MARGIN: Final = 12
_LEFT: Final = 50
_RIGHT: Final = 36
_PLOT: Final = _WIDTH - _LEFT - _RIGHT
_CHART: Final = 56
_BAR_AT: Final = _CHART + 3
_BAR: Final = 9
_ROW: Final = _CHART + 46
_SMALL: Final = 12
_LEGEND_ITEM: Final = 200
_LEGEND_LINE: Final = 24
_LEGEND_COLUMNS: Final = 2
_GAP_COLOUR: Final = "#8c1c13"


@typed
def draw(
    grid: LengthGrid,
    reach: Reach,
    *,
    max_blocks: int = MOST_BLOCKS,
    unit: Unit = "mm",
    language: str = "en",
) -> str:
    """The drawing as SVG text.

    Args:
        grid: what was asked for.
        reach: what can be built.
        max_blocks: as in `Coverage`.
        unit: of the lengths that stand in it.
        language: of its words, see `wrung.texts.languages`.

    Raises:
        InputError: at ``/language``, there are no words in it.
    """
    return "\n".join(_Drawing(grid, reach, max_blocks, Wording(language, unit), unit).lines())


class _Paragraphs:
    """Words one below the other, broken into lines; ``y`` is where the last of them ends."""

    def __init__(self, y: int) -> None:
        self.y = y
        self.lines: list[str] = []

    def add(self, words: str, size: int) -> "_Paragraphs":
        """One more, in letters of that size."""
        for line in svg.broken(words, _WIDTH - 2 * _MARGIN, size):
            self.y += round(size * 1.35)
            self.lines.append(svg.text(_MARGIN, self.y, line, size=size))
        return self


class _Drawing:
    """One drawing in the making."""

    def __init__(
        self, grid: LengthGrid, reach: Reach, most: int, wording: Wording, unit: Unit
    ) -> None:
        self._grid = grid
        self._reach = reach
        self._most = most
        self._wording = wording
        self._unit: Unit = unit
        self._rows = tuple(grid_rows(grid, reach.fewest))
        self._shades = shades(reach.histogram)
        # Names in a page are shared by all drawings in it.
        self._name = f"coverage-{crc32(reach.fewest):08x}-{grid.start}-{grid.step}-{unit}"
        self._hatching = f"url(#{self._name}-gap)"

    def lines(self) -> Iterator[str]:
        built = self._wording.built(self._reach, self._most)
        gaps = self._wording.gaps(self._reach)
        how = self._wording.say(phrase("coverage.reading"))
        title = self._wording.title(self._grid)
        head = _Paragraphs(y=8).add(title, 16).add(built, 13).add(gaps, 13)
        legend = head.y + 16 + _ROW * len(self._rows)
        items = len(self._shades) + 1
        foot = _Paragraphs(y=legend + _LEGEND_LINE * -(-items // _LEGEND_COLUMNS)).add(how, _SMALL)
        yield from self._opening(foot.y + 10, title, f"{built} {gaps} {how}")
        yield from head.lines
        for place, row in enumerate(self._rows):
            yield from self._row(row, head.y + 14 + _ROW * place)
        yield from self._legend(legend)
        yield from foot.lines
        yield "</svg>"

    def _opening(self, height: int, title: str, description: str) -> Iterator[str]:
        """What the drawing is called and says in words, its hatching, and the paper."""
        names = f"{self._name}-title", f"{self._name}-desc"
        yield (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" '
            f'width="{_WIDTH}" height="{height}" role="img" aria-labelledby="{" ".join(names)}" '
            'font-family="sans-serif" fill="#1a1a1a">'
        )
        yield f'<title id="{names[0]}">{title}</title>'
        yield f'<desc id="{names[1]}">{description}</desc>'
        yield from self._hatched()
        yield f'<rect width="{_WIDTH}" height="{height}" fill="#fff"/>'

    def _hatched(self) -> Iterator[str]:
        yield (
            f'<defs><pattern id="{self._name}-gap" width="6" height="6" '
            'patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
            '<rect width="6" height="6" fill="#fff"/>'
            f'<rect width="2" height="6" fill="{_GAP_COLOUR}"/></pattern></defs>'
        )

    def _row(self, row: GridRow, y: float) -> Iterator[str]:
        scale = _PLOT / row.width
        width = row.columns[-1].end * scale
        below = 0
        for shade in self._shades:
            yield svg.path(_boxes(row.columns, below, shade.most, y, scale), shade.colour)
            below = shade.most
        yield svg.path(_missing_boxes(row.columns, y, scale), self._hatching)
        yield svg.path(_gap_bar(row.columns, y + _BAR_AT, scale), _GAP_COLOUR)
        yield svg.rectangle(_LEFT, y, width, _CHART, "none")
        yield svg.rectangle(_LEFT, y + _BAR_AT, width, _BAR, "none")
        yield svg.text(_LEFT - 6, y + 10, "100 %", size=_SMALL, anchor="end")
        yield svg.text(_LEFT - 6, y + _CHART, "0 %", size=_SMALL, anchor="end")
        yield from self._marks(row, y + _BAR_AT + _BAR, scale)

    def _marks(self, row: GridRow, y: float, scale: float) -> Iterator[str]:
        span = row.width * self._grid.step
        for mark in marks(row.first, row.last, span, self._unit):
            # Half a step further, as a point stands in the middle of its place.
            x = _LEFT + ((mark - row.first) / self._grid.step + 0.5) * scale
            yield svg.line(x, y, y + 5)
            yield svg.text(x, y + 17, self._wording.length(mark), size=_SMALL, anchor="middle")

    def _legend(self, y: float) -> Iterator[str]:
        points = len(self._reach.fewest)
        missing = self._wording.say(phrase("coverage.missing"))
        items = [
            *((s.colour, self._wording.say(s.label), s.points) for s in self._shades),
            (self._hatching, missing, points - self._reach.buildable_count),
        ]
        for place, (fill, label, count) in enumerate(items):
            line, column = divmod(place, _LEGEND_COLUMNS)
            x, top = _MARGIN + column * _LEGEND_ITEM, y + line * _LEGEND_LINE
            yield svg.rectangle(x, top, 22, 14, fill)
            yield svg.text(x + 29, top + 12, f"{label}: {grouped(count)}")


def _boxes(
    columns: Sequence[Column], below: int, most: int, y: float, scale: float
) -> Iterator[str]:
    """What needs more than ``below`` and at most ``most`` blocks, from the bottom up."""
    for column in columns:
        under = _up_to(column, below) / column.points
        upto = _up_to(column, most) / column.points
        if upto > under:
            x, width = _across(column, scale)
            yield svg.box(x, y + _CHART * (1 - upto), width, _CHART * (upto - under))


def _missing_boxes(columns: Sequence[Column], y: float, scale: float) -> Iterator[str]:
    for column in columns:
        if missing := column.needed.get(0, 0):
            x, width = _across(column, scale)
            yield svg.box(x, y, width, _CHART * missing / column.points)


def _gap_bar(columns: Sequence[Column], y: float, scale: float) -> Iterator[str]:
    """As high as the bar where all is missing, half as high where something is."""
    for column in columns:
        if missing := column.needed.get(0, 0):
            x, width = _across(column, scale)
            height = _BAR if missing == column.points else _BAR / 2
            yield svg.box(x, y + _BAR - height, width, height)


def _across(column: Column, scale: float) -> tuple[float, float]:
    """Its left edge and its width, rounded so that no gap shows between neighbours."""
    left, right = (round(_LEFT + at * scale, 2) for at in (column.start, column.end))
    return left, right - left


def _up_to(column: Column, most: int) -> int:
    return sum(points for blocks, points in column.needed.items() if 0 < blocks <= most)
