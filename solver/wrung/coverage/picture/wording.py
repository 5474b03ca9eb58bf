"""The words in the drawing, and the shades that some of them explain."""

from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import Struct

from wrung.coverage.answer import MOST_BLOCKS, LengthGrid, NeededBlocks, Reach, Run
from wrung.lengths import Unit
from wrung.measures import Measure
from wrung.texts import Figure, Phrase, figure, phrase, word

_MOST_GAPS: Final = 3
_NARROW_SPACE: Final = "\u202f"
# One hue from light to dark: told apart by lightness, so in grey print and by the colour-blind too.
_SHADES: Final = ("#dbe9f6", "#b3cfe6", "#82aed2", "#4f86b8", "#285f96", "#0f3a66")


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


class Shade(Struct, frozen=True, kw_only=True):
    """A shade and what it stands for: ``fewest`` to ``most`` blocks."""

    colour: str
    fewest: int
    most: int
    points: int
    label: Phrase


def shades(histogram: Sequence[NeededBlocks]) -> tuple[Shade, ...]:
    """One for each number of blocks that lengths need; the last for all beyond, if there are many.

    Few are spread over the whole scale from light to dark.
    """
    if not histogram:
        return ()
    single, rest = list(histogram), histogram[len(_SHADES) - 1 :]
    groups = [[each] for each in single]
    if len(groups) > len(_SHADES):
        groups = [*groups[: len(_SHADES) - 1], list(rest)]
    # A single group takes the lightest shade; there is no distance to divide by then.
    spread = (len(_SHADES) - 1) / max(1, len(groups) - 1)
    return tuple(
        _shade(_SHADES[round(place * spread)], group) for place, group in enumerate(groups)
    )


def _shade(colour: str, group: Sequence[NeededBlocks]) -> Shade:
    fewest, most = group[0].block_count, group[-1].block_count
    key = "coverage.one" if most == 1 else "coverage.blocks"
    key = key if most == fewest else "coverage.more"
    return Shade(
        colour=colour,
        fewest=fewest,
        most=most,
        points=sum(each.length_count for each in group),
        label=phrase(key, figure("blocks", fewest)),
    )
