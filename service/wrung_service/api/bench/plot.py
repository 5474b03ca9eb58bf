"""What one more block buys, as a plot: the worst-case error over the number of blocks."""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Final

from msgspec import Struct

from wrung.svg import element, text

_WIDTH, _HEIGHT = 300.0, 170.0
_LEFT, _RIGHT, _TOP, _FOOT = 44.0, 262.0, 22.0, 138.0
_MARK: Final = 12.0
_LETTERS: Final = 12
_STEPS: Final = (1, 2, 5, 10)
_MOST_LINES: Final = 5


class Plotted(Struct, frozen=True, kw_only=True):
    """A plan in the plot: its blocks, its largest error, and the error as it is written."""

    blocks: int
    error: Decimal
    label: str


def plot(plans: Sequence[Plotted], *, title: str, across: str, up: str, mark: str) -> str:
    """The plans from the fewest blocks on, as SVG; the first one is filled, as it is shown.

    Args:
        plans: at least two, each with more blocks and a smaller error than the one before.
        title: for who cannot see it.
        across: the word for blocks.
        up: the word for the error, with its unit.
        mark: the decimal mark.
    """
    drawn = _Plot(plans, mark)
    content = "".join(
        (
            element("title", title),
            *drawn.grid(),
            *drawn.marks(),
            text(_WIDTH - 2, _HEIGHT - 6, across, size=_LETTERS, anchor="end"),
            text(2, 12, up, size=_LETTERS),
        )
    )
    size = f"0 0 {_WIDTH:g} {_HEIGHT:g}"
    return element("svg", content, viewBox=size, role="img", class_="plot")


class _Plot:
    def __init__(self, plans: Sequence[Plotted], mark: str) -> None:
        self._plans, self._mark = plans, mark
        self._step = _nice(plans[0].error)
        self._lines = int(plans[0].error / self._step) + 1
        self._least, self._most = plans[0].blocks, plans[-1].blocks

    def grid(self) -> Iterator[str]:
        """Lines of equal error, and the numbers of blocks."""
        for place in range(self._lines + 1):
            value = place * self._step
            y = self._y(value)
            yield _line(f"M{_LEFT:g} {y:.1f}H{_WIDTH:g}", "thin", 0.75)
            figure = f"{value:f}".replace(".", self._mark)
            yield text(_LEFT - 5, y + 4, figure, size=_LETTERS, anchor="end")
        for plan in self._plans:
            yield text(
                self._x(plan.blocks), _FOOT + 17, str(plan.blocks), size=_LETTERS, anchor="middle"
            )

    def marks(self) -> Iterator[str]:
        """The step line, and a square for each plan."""
        first, *rest = self._plans
        steps = [f"M{self._x(first.blocks):.1f} {self._y(first.error):.1f}"]
        steps += [f"H{self._x(each.blocks):.1f}V{self._y(each.error):.1f}" for each in rest]
        yield _line("".join(steps), "wide", 1.5)
        for place, plan in enumerate(self._plans):
            x, y = self._x(plan.blocks), self._y(plan.error)
            yield element(
                "rect",
                x=x - _MARK / 2,
                y=y - _MARK / 2,
                width=_MARK,
                height=_MARK,
                fill="#fff" if place else "#000",
                stroke="#000",
                stroke_width=1.5,
                class_="open" if place else "shown",
            )
            yield text(x + 10, y - 8, f"± {plan.label}", size=_LETTERS)

    def _x(self, blocks: int) -> float:
        return (
            _LEFT + 22 + (_RIGHT - _LEFT - 40) * (blocks - self._least) / (self._most - self._least)
        )

    def _y(self, error: Decimal) -> float:
        return _FOOT - (_FOOT - _TOP) * float(error / (self._lines * self._step))


def _line(path: str, name: str, width: float) -> str:
    return element("path", d=path, fill="none", stroke="#000", stroke_width=width, class_=name)


def _nice(largest: Decimal) -> Decimal:
    """The least step of 1, 2 or 5 that needs few lines."""
    power = Decimal(10) ** (largest.adjusted() - 1)
    return next(
        (power * step for step in _STEPS if largest / (power * step) < _MOST_LINES),
        power * 2 * _STEPS[-1],
    )
