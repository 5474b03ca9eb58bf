"""Which missing points added blocks restore, as the bits of one number.

Bit ``s`` stands for the sum of ``s`` steps. A stack with added blocks is a stack without them,
shifted by their length, so that one shift and one mask tell all points that it reaches.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.answers import Wanted
from wrung.coverage.question import Question
from wrung.subset_sums import Bits, Counts, Kind, as_bits

_MEMORY: Final = 32_000_000
"""Bytes for what single offers restore; what does not fit is worked out again."""


class Offer(Struct, frozen=True, kw_only=True):
    """A block that may be added; ``several`` says whether there is more than one of it."""

    kind: Kind
    block: Wanted
    several: bool = False


class Restoring:
    """The missing points of one question, and what restores them."""

    def __init__(self, question: Question, sums: Counts) -> None:
        self._question = question
        self._sums = sums
        self.top = question.top
        missing = np.zeros(question.top + 1, dtype=np.bool_)
        missing[question.places.cells] = question.places.of(sums) > question.most
        self._missing = as_bits(missing)
        self.missing = self._missing.bit_count()
        self._counts: dict[Kind, int] = {}
        # A cache for each question, not for the class: it ends with it.
        self._of = lru_cache(maxsize=max(8, _MEMORY * 8 // (question.top + 1)))(self._alone)
        self._within = lru_cache(maxsize=8)(self._low)

    def count(self, offer: Offer) -> int:
        """How many points the offer alone restores."""
        if offer.kind not in self._counts:
            self._counts[offer.kind] = self._of(offer.kind).bit_count()
        return self._counts[offer.kind]

    def count_by_both(self, size: int, wear: int) -> int:
        """How many points stacks have that hold two offers, ``size`` long together."""
        return self._reached(size, wear, 2).bit_count()

    def count_by_any(self, pair: Sequence[Offer]) -> int:
        """How many points two offers restore, each alone or both together."""
        one, other = (offer.kind for offer in pair)
        together = self._reached(one.size + other.size, one.is_wear + other.is_wear, 2)
        return (self._of(one) | self._of(other) | together).bit_count()

    def _alone(self, kind: Kind) -> Bits:
        return self._reached(kind.size, int(kind.is_wear), 1)

    def _reached(self, size: int, wear: int, blocks: int) -> Bits:
        """Missing points of stacks that hold so many added blocks, so many of them wear blocks."""
        layer, most = self._question.wear_count - wear, self._question.most - blocks
        if layer < 0 or most < 0 or size > self.top:
            return 0
        return (self._within(layer, most) << size) & self._missing

    def _low(self, layer: int, most: int) -> Bits:
        """The sums that stacks of at most so many blocks have."""
        return as_bits(self._sums[layer] <= most)
