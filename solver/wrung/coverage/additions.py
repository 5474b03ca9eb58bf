"""Which one or two more blocks restore the most points."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

from wrung.coverage.answer import Addition, Additions
from wrung.coverage.losses import lost
from wrung.coverage.pairs import best_pair
from wrung.coverage.question import Question
from wrung.coverage.restoring import Offer, Restoring
from wrung.deadline import Deadline
from wrung.subset_sums import Counts, OutOfTimeError, put

_MOST_ONES: Final = 10


def additions(question: Question, sums: Counts, deadline: Deadline) -> Additions:
    """The best single offers, and the best two together.

    Args:
        question: the inventory, the grid and the offers.
        sums: of all the blocks.
        deadline: ends the comparison of pairs; what was found until then is given, unproven.

    Raises:
        OutOfTimeError: the deadline passed before every single offer was compared.
    """
    restoring = Restoring(question, sums)
    offers = _offers(question)
    for offer in offers:
        if deadline.passed:
            raise OutOfTimeError
        # Each count is kept, so that sorting and pairing find it without a look at the clock.
        restoring.count(offer)
    ranked = sorted(offers, key=lambda offer: (-restoring.count(offer), offer.kind.size))
    ones = [offer for offer in ranked[:_MOST_ONES] if restoring.count(offer)]
    pair, proven = best_pair(restoring, ranked, deadline)
    return Additions(
        blocks_compared=len(question.offers),
        single_blocks=tuple(_addition(question, sums, [offer]) for offer in ones),
        best_pair=_addition(question, sums, pair) if pair else None,
        best_pair_proven=proven,
    )


def _offers(question: Question) -> list[Offer]:
    """What is offered and can stand in a stack; alike ones counted, named as the first of them."""
    kinds = [(question.kind(wanted), wanted) for wanted in question.offers]
    # Backwards, as of alike ones the last to be written stays: the first that was offered.
    first = {kind: wanted for kind, wanted in reversed(kinds) if kind is not None}
    counts = Counter(kind for kind, _ in kinds)
    return [
        Offer(kind=kind, block=wanted, several=counts[kind] > 1)
        for kind, wanted in reversed(first.items())
    ]


def _addition(question: Question, sums: Counts, offers: Sequence[Offer]) -> Addition:
    """What the offers bring, worked out as if they had been on the shelf."""
    with_them = sums.copy()
    for offer in offers:
        put(with_them, offer.kind)
    before, after = question.places.of(sums), question.places.of(with_them)
    # What would be lost again without them.
    gained, fewer = lost(question, after, before)
    return Addition(
        blocks=tuple(offer.block for offer in offers),
        lengths_gained=gained,
        lengths_with_fewer_blocks=fewer,
    )
