"""Which shade stands for how many blocks."""

from collections.abc import Sequence
from typing import Final

from msgspec import Struct

from wrung.coverage.answer import NeededBlocks
from wrung.texts import Phrase, figure, phrase

# One hue from light to dark: told apart by lightness, so in grey print and by the colour-blind too.
_SHADES: Final = ("#dbe9f6", "#b3cfe6", "#82aed2", "#4f86b8", "#285f96", "#0f3a66")


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
