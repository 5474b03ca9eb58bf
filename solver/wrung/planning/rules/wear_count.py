"""A stack has exactly the wear blocks that were asked for."""

from collections.abc import Iterator

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.scaled import Scaled


def wear_count(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Add the rule; where none were asked for, the choices hold no wear blocks anyway."""
    wear = [int(kind.piece.wear) for kind in scaled.kinds]
    for index, demand in enumerate(scaled.problem.demands):
        if demand.wear:
            wanted = demand.wear * choices.served[index]
            choices.model.add(choices.total(index, wear) == wanted)
            yield
