"""The words in the drawing."""

from collections.abc import Iterator
from typing import Final

from wrung.coverage.answer import MOST_BLOCKS, LengthGrid, Reach, Run
from wrung.lengths import Unit
from wrung.measures import Measure
from wrung.texts import Figure, Phrase, figure, phrase, word

_MOST_GAPS: Final = 3
_NARROW_SPACE: Final = "\u202f"


class Wording:
    """Says things in one language and unit."""

    def __init__(self, language: str, unit: Unit) -> None:
        self._language = language
        self._unit: Unit = unit

    def say(self, said: Phrase) -> str:
        """The phrase in words."""
        return word(said, self._language, self._unit)

    def length(self, length: int) -> str:
        """A length with its unit."""
        return self.say(phrase("coverage.mark", _length("length", length)))

    def title(self, grid: LengthGrid) -> str:
        """The objective of the request."""
        return self.say(
            phrase(
                "coverage.title",
                _length("start", grid.start),
                _length("stop", grid.points[-1]),
                _length("step", grid.step),
            )
        )

    def built(self, reach: Reach, most: int) -> str:
        """How many lengths can be built."""
        points = len(reach.fewest)
        figures = (
            figure("built", grouped(reach.buildable_count)),
            figure("points", grouped(points)),
            figure("share", share(reach.buildable_count, points), Measure.RATIO),
        )
        # This is no limit of the user's, so it is not named as one.
        if most >= MOST_BLOCKS:
            return self.say(phrase("coverage.built", *figures))
        return self.say(phrase("coverage.built_with", *figures, figure("most", most)))

    def gaps(self, reach: Reach) -> str:
        """The largest gaps; that there are none, if so."""
        if not reach.gap_count:
            return self.say(phrase("coverage.no_gaps"))
        told = "; ".join(self._gaps(reach))
        count = figure("count", grouped(reach.gap_count))
        return self.say(phrase("coverage.gaps", count, figure("gaps", told)))

    def _gaps(self, reach: Reach) -> Iterator[str]:
        for gap in reach.gaps[:_MOST_GAPS]:
            yield self.length(gap.first) if gap.length_count == 1 else self._gap(gap)

    def _gap(self, gap: Run) -> str:
        first, last = _length("first", gap.first), _length("last", gap.last)
        points = figure("points", grouped(gap.length_count))
        return self.say(phrase("coverage.gap", first, last, points))


def _length(name: str, length: int) -> Figure:
    return figure(name, length, Measure.LENGTH, "stated")


def grouped(count: int) -> str:
    """A number with its digits in threes, as ISO 80000-1 wants them."""
    return f"{count:,}".replace(",", _NARROW_SPACE)


def share(part: int, whole: int) -> str:
    """Per cent with two decimals, rounded down, so that 100 is said of all only."""
    hundredths = part * 10_000 // whole
    return f"{hundredths // 100}.{hundredths % 100:02d}".rstrip("0").rstrip(".")
