"""A stack's nominal length lies in the demand's window."""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def reach(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule; a demand without a window is not served."""
    for demand, window in enumerate(scaled.windows):
        if window:
            choices.model.add(choices.total(demand, scaled.nominals) == choices.length(demand))
        else:
            choices.model.add(choices.served[demand] == 0)
        yield
