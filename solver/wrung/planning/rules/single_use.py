"""Demands that are needed at one time use no block twice, and none both ways round."""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def single_use(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule, for each clique and the kinds that are the same blocks."""
    same_blocks = scaled.same_blocks()
    for clique in scaled.problem.cliques:
        for kinds in same_blocks:
            uses = [
                use for k in clique for kind in kinds if (use := choices.use(k, kind)) is not None
            ]
            if len(uses) < 2:  # noqa: PLR2004 -- one stack alone is held by its variable's range
                continue
            count = choices.most(kinds[0])
            if count == 1:
                choices.model.add_at_most_one(uses)
            else:
                choices.model.add(choices.sum(uses) <= count)
            yield
