"""What would be lost without each block: the sums of all the others, for every block.

All but one of n kinds, for each of them, by halving: first the blocks of one half are added, then
within the other half likewise. So n log n additions do what n runs would need n² for.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from msgspec.structs import replace

from wrung.coverage.answer import Loss
from wrung.coverage.places import Fewest
from wrung.coverage.question import Question
from wrung.deadline import Deadline
from wrung.subset_sums import Counts, Kind, nothing, put_all


def losses(question: Question, fewest: Fewest, deadline: Deadline) -> tuple[Loss, ...]:
    """For each usable block what is lost without it, the greatest loss first.

    A step goes with its step block.

    Args:
        question: the inventory and the grid.
        fewest: of each point that is a sum, with every block.
        deadline: ends the work.

    Raises:
        OutOfTimeError: the deadline passed.
    """
    empty = nothing(question.wear_count + 1, question.top)
    found: dict[Kind | str | None, tuple[int, int]] = {}
    for kind, rest in _without_each(empty, question.kinds, deadline):
        if not kind.is_step:
            found[replace(kind, count=1)] = lost(question, fewest, question.places.of(rest))
            continue
        for body in {block.body for block in question.blocks} - {None}:
            others = put_all(rest.copy(), question.steps(without=body), deadline)
            found[body] = lost(question, fewest, question.places.of(others))
    each = (
        Loss(block=block.id, lengths_lost=gone, lengths_with_more_blocks=more)
        for block in question.blocks
        for gone, more in (found.get(block.body or question.kind(block), (0, 0)),)
    )
    return tuple(
        sorted(each, key=lambda loss: (-loss.lengths_lost, -loss.lengths_with_more_blocks))
    )


def _without_each(
    sums: Counts, kinds: Sequence[Kind], deadline: Deadline
) -> Iterator[tuple[Kind, Counts]]:
    """Each kind, and the sums of all other blocks and of all but one of its own."""
    if len(kinds) <= 1:
        for kind in kinds:
            yield kind, put_all(sums, [replace(kind, count=kind.count - 1)], deadline)
        return
    half = len(kinds) // 2
    yield from _without_each(put_all(sums.copy(), kinds[half:], deadline), kinds[:half], deadline)
    # The first half is done with its copy, so the array itself may be changed now.
    yield from _without_each(put_all(sums, kinds[:half], deadline), kinds[half:], deadline)


def lost(question: Question, before: Fewest, after: Fewest) -> tuple[int, int]:
    """How many points cannot be built afterwards, and how many then need more blocks."""
    gone = (before <= question.most) & (after > question.most)
    more = (after <= question.most) & (after > before)
    return int(np.count_nonzero(gone)), int(np.count_nonzero(more))
