"""How high each block is drawn: to scale, with the longest broken where thin ones need it."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

from msgspec import Struct

_THINNEST: Final = Fraction(22, 100)
"""Of the pitch: a block less high would be a line."""
_BROKEN: Final = Fraction(162, 100)
_BROKEN_LEAST: Final = Fraction(80, 100)
"""Of the pitch: room for the break and for a figure below it."""
_LONGEST_OTHER: Final = Fraction(90, 100)
"""Of a broken block: the others must look shorter than it."""


class Heights(Struct, frozen=True, kw_only=True):
    """How high the blocks are drawn, in their order, and which are broken.

    Attributes:
        to_scale: whether all blocks that are not broken have one scale.
    """

    heights: tuple[float, ...]
    broken: frozenset[int]
    to_scale: bool = True


def heights(lengths: Sequence[int], pitch: float) -> Heights:
    """Of blocks of these lengths; together they are as high as that many rows of a pitch.

    As few as possible are broken. Those that are not are true to each other, and a broken one
    looks longer than all of them. If no scale does that, all are of one height.
    """
    p = Fraction(pitch)
    by_length = sorted(range(len(lengths)), key=lambda i: -lengths[i])
    for count in range(len(lengths)):
        broken = frozenset(by_length[:count])
        found = _with_broken(lengths, broken, p)
        if found is not None:
            return Heights(heights=tuple(map(float, found)), broken=broken)
    return Heights(heights=(pitch,) * len(lengths), broken=frozenset(), to_scale=False)


def _with_broken(
    lengths: Sequence[int], broken: frozenset[int], p: Fraction
) -> list[Fraction] | None:
    whole = [length for i, length in enumerate(lengths) if i not in broken]
    height = len(lengths) * p
    if not broken:
        scale = height / sum(whole)
        fits = scale * min(whole) >= _THINNEST * p
        return [scale * length for length in lengths] if fits else None
    scale = max(_THINNEST * p / min(whole), (height - _BROKEN * len(broken) * p) / sum(whole))
    each = (height - scale * sum(whole)) / len(broken)
    if each < max(_BROKEN_LEAST * p, scale * max(whole) / _LONGEST_OTHER):
        return None
    return [each if i in broken else scale * length for i, length in enumerate(lengths)]
