"""What it costs that blocks are not there, where it costs anything."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Final

from msgspec import Struct

from wrung_service.api.bench.view import AnswerView
from wrung_service.api.bench.words import BenchWords

_ONE: Final = 1


class Missed(Struct, frozen=True, kw_only=True):
    """A block that would have been used, and the word for why it was not."""

    id: str
    figure: str
    reason: str


class Why(Struct, frozen=True, kw_only=True):
    """The blocks that would have been used, and what came of it.

    Attributes:
        blocks: those that cannot be had.
        more: how many blocks more are used now; less than 0 for fewer.
        error: by how much the largest error grew; less than 0 if it fell.
        lost: stacks that cannot be had without them.
    """

    blocks: tuple[Missed, ...]
    more: int
    error: Decimal
    lost: int

    def cost(self, words: BenchWords, unit: str) -> str:
        """In words, such as ``2 blocks and 18 µin more``."""
        if self.lost:
            return words.say("why.lost")
        parts = [*_said("why.blocks", self.more, words)] if self.more else []
        if self.error:
            way = "more" if self.error > 0 else "less"
            size = words.figure(f"{abs(self.error).normalize():f}")
            parts.append(words.say(f"why.error_{way}", error=size, unit=unit))
        return words.say("why.and").join(parts)


def why(now: AnswerView, before: AnswerView, gone: Mapping[str, str]) -> Why | None:
    """Compares the answer with that of all blocks being there; None if nothing changed.

    ``gone`` has by id the word for why a block cannot be had.
    """
    missed = {
        row.id: Missed(id=row.id, figure=row.figure, reason=gone[row.id])
        for stack in before.stacks
        for row in stack.rows
        if row.id in gone
    }
    found = Why(
        blocks=tuple(missed.values()),
        more=now.blocks - before.blocks,
        error=Decimal(now.largest) - Decimal(before.largest),
        lost=len(before.stacks) - len(now.stacks),
    )
    return found if missed and (found.lost or found.more or found.error) else None


def _said(key: str, count: int, words: BenchWords) -> list[str]:
    way = "more" if count > 0 else "fewer"
    number = "one" if abs(count) == _ONE else "many"
    return [words.say(f"{key}_{way}.{number}", count=abs(count))]
