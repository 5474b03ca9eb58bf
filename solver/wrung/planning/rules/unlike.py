"""A stack differs from given ones in the number of pieces of some kind."""

from collections import Counter
from collections.abc import Iterator, Sequence

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.rules import Rule


def unlike(demand: int, stacks: Sequence[Sequence[int]]) -> Rule:
    """The rule for a demand and stacks that it must not have."""

    def differ(scaled: Scaled, choices: Choices) -> Iterator[None]:
        kind_of = {p: index for index, kind in enumerate(scaled.kinds) for p in kind.pieces}
        for stack in stacks:
            counts = Counter(kind_of[piece] for piece in stack)
            other = [choices.other(use, counts[kind]) for kind, use in choices.uses(demand)]
            choices.model.add_bool_or(other)
            yield

    return differ
