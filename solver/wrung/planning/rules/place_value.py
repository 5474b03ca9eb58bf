"""Clear the right-most digit first: at each place value, the pieces leave what the stack leaves.

This follows from `reach`, but the solver does not see it there; with this rule, proofs take
milliseconds instead of seconds.
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
            # A window as wide as the place value allows any remainder.
            if len(window) < place:
                # Lengths beyond the first may go past the next multiple.
                fewest = -1 if len(window) > 1 else 0
                whole = choices.model.new_int_var(fewest, largest // place, "")
                wanted = window.start % place * choices.served[demand] + choices.beyond(demand)
                choices.model.add(choices.total(demand, rests) == place * whole + wanted)
            yield


def _places(scaled: Scaled) -> list[int]:
    """For each system of units by itself: inch and metric lengths form no common series."""
    series: dict[str, list[int]] = {}
    for kind, nominal in zip(scaled.kinds, scaled.nominals, strict=True):
        series.setdefault(kind.unit, []).append(nominal)
    return sorted({place for lengths in series.values() for place in place_values(lengths)})
