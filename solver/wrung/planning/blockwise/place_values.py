"""The places of an inventory's lengths: the steps of its series, as the digits are of a number.

The bench habit "clear the right-most digit first" rests on them. Of the inch 81-piece set they are
0.0001, 0.001, 0.050 and 1 in: whatever stack is built, only the blocks that are not multiples of
0.050 in decide the remainder of its length after division by 0.050 in.
"""

from collections.abc import Iterable, Sequence
from itertools import pairwise

from wrung.tuning import TUNING, Tuning


def place_values(lengths: Iterable[int], tuning: Tuning = TUNING) -> tuple[int, ...]:
    """Steps of the series among the lengths: each stands between three neighbours or more.

    A step of 1 says nothing about whole numbers and is left out. If there are many steps, those
    that divide the most lengths are kept.
    """
    distinct = sorted(set(lengths))
    gaps = [longer - shorter for shorter, longer in pairwise(distinct)]
    steps = {gap for gap, after in pairwise(gaps) if gap == after and gap > 1}
    telling = sorted(steps, key=lambda step: (sum(n % step > 0 for n in distinct), step))
    return tuple(sorted(telling[: tuning.most_place_values]))


def residues(lengths: Sequence[int], place: int) -> tuple[int, ...]:
    """The remainder of each length after division by the place value."""
    return tuple(length % place for length in lengths)
