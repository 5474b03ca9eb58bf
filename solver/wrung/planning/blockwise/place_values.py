"""The places of an inventory's lengths: the steps of its series, as the digits are of a number.

The bench habit "clear the right-most digit first" rests on them. Of the inch 81-piece set they are
0.0001, 0.001, 0.050 and 1 in: whatever stack is built, only the blocks that are no multiple of
0.050 in decide what its length leaves when divided by 0.050 in.
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise


def place_values(lengths: Iterable[int]) -> tuple[int, ...]:
    """Steps of the series among the lengths: each stands between three neighbours or more.

    A step of 1 says nothing of whole numbers and is left out.
    """
    gaps = [longer - shorter for shorter, longer in pairwise(sorted(set(lengths)))]
    return tuple(sorted({gap for gap, after in pairwise(gaps) if gap == after and gap > 1}))


def residues(lengths: Sequence[int], place: int) -> tuple[int, ...]:
    """What each length leaves when divided by the place value."""
    return tuple(length % place for length in lengths)
