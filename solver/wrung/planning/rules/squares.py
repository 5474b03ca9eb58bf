"""Where the offset of a stack counts squared: its error is at least its square plus its variance.

Errors are in (0.1 nm)² and offsets in quanta, a tenth of a tenth; the square is rounded down.
"""

from collections.abc import Iterator

from wrung.metrology.error_measure import QUANTA_A_STEP
from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def squares(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule; a demand that is not served is not off and has no error."""
    if not scaled.squares:
        return
    unit, most = QUANTA_A_STEP**2, scaled.farthest
    for demand in scaled.open:
        served, model = choices.served[demand], choices.model
        off = model.new_int_var(-most, most, "")
        model.add(off == choices.off(demand) + choices.total(demand, scaled.deviations))
        square = model.new_int_var(0, most * most, "")
        model.add_multiplication_equality(square, [off, off])
        # The pieces bring one joint too many.
        variance = choices.total(demand, scaled.burdens) - scaled.joint * served
        model.add(unit * choices.errors[demand] >= unit * variance + square - (unit - 1))
        model.add(choices.largest >= choices.errors[demand])
        yield
