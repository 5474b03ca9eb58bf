"""A stack's error is at least its worst case, and the largest error at least each stack's.

Worst case: |sum of nominals and deviations - target| + sum of margins + joints * joint allowance.
Both are only bounded from below, which is enough where they are minimised.
"""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def worst_case(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule; a demand that is not served has no error."""
    if scaled.squares:
        return
    pairs = list(zip(scaled.burdens, scaled.deviations, strict=True))
    over = [burden + deviation for burden, deviation in pairs]
    under = [burden - deviation for burden, deviation in pairs]
    for demand in scaled.open:
        served, error = choices.served[demand], choices.errors[demand]
        # The pieces bring one joint too many.
        off = choices.off(demand)
        choices.model.add(error >= choices.total(demand, over) + off - scaled.joint * served)
        choices.model.add(error >= choices.total(demand, under) - off - scaled.joint * served)
        choices.model.add(choices.largest >= error)
        yield
