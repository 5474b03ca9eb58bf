"""Clear the right-most digit first: what a stack leaves at each place value, its pieces leave.

This follows from `reach`, but the solver does not see it there: proofs take it from seconds to
milliseconds.
"""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.place_values import place_values, residues
from wrung.planning.blockwise.scaled import Scaled


def place_value(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule, for each place value of the inventory and each demand."""
    for place in _places(scaled):
        rests = residues(scaled.nominals, place)
        largest = sum(rest * len(k.pieces) for rest, k in zip(rests, scaled.kinds, strict=True))
        for demand in scaled.open:
            window = scaled.windows[demand]
            # A window as wide as the place lets a stack leave anything.
            if len(window) < place:
                # What lies beyond the first length may take it past the next multiple.
                fewest = -1 if len(window) > 1 else 0
                whole = choices.model.new_int_var(fewest, largest // place, "")
                wanted = window.start % place * choices.served[demand] + choices.beyond(demand)
                choices.model.add(choices.total(demand, rests) == place * whole + wanted)
            yield


def _places(scaled: Scaled) -> list[int]:
    """Of each system of units by itself: between inch and metric lengths there are no series."""
    series: dict[str, list[int]] = {}
    for kind, nominal in zip(scaled.kinds, scaled.nominals, strict=True):
        series.setdefault(kind.unit, []).append(nominal)
    return sorted({place for lengths in series.values() for place in place_values(lengths)})
