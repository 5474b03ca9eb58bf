"""A stack's error is no larger than its demand allows.

Elsewhere errors are only bounded from below, so an upper bound means just this: there is a stack
whose error is no larger.
"""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def most_error(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule, for each demand with such a limit."""
    for demand in scaled.open:
        most = scaled.problem.demands[demand].most_error
        if most is not None:
            served = choices.served[demand]
            # A limit above every error would be too large for the solver's whole numbers.
            grains = min(max(most, 0) // scaled.grain, scaled.worst)
            choices.model.add(choices.errors[demand] <= grains * served)
            if most < 0:
                choices.model.add(served == 0)
        yield
