"""Where an axis has its marks: at round lengths of the unit."""

from collections.abc import Sequence
from typing import Final

from wrung.lengths import QUANTA, Unit

_MOST_MARKS: Final = 4
_ROUND: Final = (1, 2, 5)


def marks(first: int, last: int, span: int, unit: Unit) -> Sequence[int]:
    """Round lengths from first to last, quanta, about four in a ``span``; first if there are none.

    The span is that of the longest row, so that all rows of a drawing have the same marks.
    """
    step = _step(span, unit)
    found = range(-(-first // step) * step, last + 1, step)
    return found if len(found) > 0 else (first,)


def _step(span: int, unit: Unit) -> int:
    """The least of 1, 2, 5, 10, .. times a decimal part of the unit that makes few enough marks."""
    size = QUANTA[unit]
    while size % 10 == 0 and size * _MOST_MARKS > span:
        size //= 10
    while True:
        for times in _ROUND:
            if size * times * _MOST_MARKS >= span:
                return size * times
        size *= 10
