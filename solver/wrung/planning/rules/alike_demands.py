"""Identical demands differ only in their order, so one order is fixed to break the symmetry.

The first of them are served first, those with fewer blocks before those with more. Any plan can be
brought into that order by swapping stacks.
"""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def alike_demands(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule, for each pair of neighbours among identical demands."""
    last: dict[tuple[object, ...], int] = {}
    for demand in scaled.open:
        before = last.get(key := _key(scaled, demand))
        last[key] = demand
        if before is not None:
            first, second = choices.served[before], choices.served[demand]
            choices.model.add_implication(second, first)
            choices.at_least(choices.blocks[demand], choices.blocks[before], when=second)
        yield


def _key(scaled: Scaled, demand: int) -> tuple[object, ...]:
    own = scaled.problem.demands[demand]
    cliques = tuple(demand in clique for clique in scaled.problem.cliques)
    return (own.target, own.low, own.high, own.most, own.wear, own.most_error, cliques)
