"""A stack has at least one block and at most as many as the demand allows."""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def block_count(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule; a demand that is not served has no blocks."""
    ones = [1] * len(scaled.kinds)
    for index, demand in enumerate(scaled.problem.demands):
        blocks, served = choices.blocks[index], choices.served[index]
        choices.model.add(choices.total(index, ones) == blocks)
        choices.model.add(blocks >= served)
        choices.model.add(blocks <= demand.most * served)
        yield
