"""Demands that are needed at one time use no piece twice."""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def single_use(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule, for each crowd and kind."""
    for crowd in scaled.problem.crowds:
        for index, kind in enumerate(scaled.kinds):
            uses = [use for k in crowd if (use := choices.use(k, index)) is not None]
            if len(uses) < 2:  # noqa: PLR2004 -- one stack alone is held by its variable's range
                continue
            if len(kind.pieces) == 1:
                choices.model.add_at_most_one(uses)
            else:
                choices.model.add(choices.sum(uses) <= len(kind.pieces))
            yield
