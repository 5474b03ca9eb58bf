"""Values that were probably given in another unit: sound enough to work with, but worth a look."""

from collections.abc import Iterable, Iterator
from typing import Final

from wrung.blocks import Block, margin
from wrung.checked_types import typed
from wrung.lengths import mm, um
from wrung.measures import Measure
from wrung.metrology.conditions import REFERENCE_TEMPERATURE, Conditions
from wrung.texts import Phrase, figure, phrase

_COLDEST, _HOTTEST = 10.0, 40.0
"""°C. Whoever measures works between 15 °C and 35 °C, 59 °F and 95 °F (common practice, no source):
read in the other unit, either of them lies outside."""
_FARTHEST: Final = um("50")
"""The widest limits of a gauge block, grade 2 and 1 m, are a fifth of that (ISO 3650, from memory);
a thousandth of an inch or a hundredth of a millimetre that was meant as such is as far off."""
_WIDEST: Final = mm("20")
"""General tolerances end at 16 mm (ISO 2768-1, class v up to 4 m, from memory)."""


@typed
def temperature_doubts(under: Iterable[Conditions]) -> tuple[Phrase, ...]:
    """A remark on each temperature, of a stack or a part, that nobody measures at."""
    doubtful = (t for each in under for t in _temperatures(each) if not _COLDEST <= t <= _HOTTEST)
    return tuple(
        phrase("doubtful.temperature", figure("temperature", text, Measure.TEMPERATURE))
        # Beyond these places a difference only comes from working in binary.
        for text in dict.fromkeys(f"{celsius:.6f}" for celsius in doubtful)
    )


def block_doubts(block: Block) -> Iterator[Phrase]:
    """A remark on a deviation, an uncertainty or a limit that no gauge block has."""
    off = max(abs(block.deviation or 0), margin(block))
    if off > _FARTHEST:
        yield phrase(
            "doubtful.block",
            figure("block", block.id),
            figure("off", off, Measure.MARGIN, "stated"),
        )


def width_doubts(width: int) -> Iterator[Phrase]:
    """A remark on a tolerance, by its width in quanta, that is wider than any."""
    if width > _WIDEST:
        yield phrase("doubtful.tolerance", figure("width", width, Measure.LENGTH, "stated"))


def _temperatures(conditions: Conditions) -> Iterator[float]:
    stack = REFERENCE_TEMPERATURE + conditions.excess.estimate
    yield stack
    if conditions.part is not None:
        yield stack + conditions.part.temperature_difference.estimate
