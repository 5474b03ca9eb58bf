"""A stack costs no less than it would alone, with the whole shelf to choose from.

This holds for the stack as a whole, and for a stack that contains a given piece: it keeps pieces
out of stacks whose rest cannot be made up cheaply enough. The solver does not find it by itself.
"""

from collections.abc import Callable, Iterator, Sequence

from ortools.sat.python import cp_model

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.least_sums import LeastSums
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.rules import Rule


def least_blocks_alone(sums: LeastSums) -> Rule:
    """The rule for the number of blocks; ``sums`` count 1 a piece."""
    return _least_alone(sums, lambda choices: choices.blocks, lambda _: 0)


def least_error_alone(sums: LeastSums) -> Rule:
    """The rule for the error; ``sums`` count each piece's burden, which is one joint too many."""
    return _least_alone(sums, lambda choices: choices.errors, lambda scaled: scaled.joint)


def _least_alone(
    sums: LeastSums,
    totals: Callable[[Choices], Sequence[cp_model.IntVar]],
    too_much: Callable[[Scaled], int],
) -> Rule:
    def rule(scaled: Scaled, choices: Choices) -> Iterator[None]:
        less = too_much(scaled)
        for demand in scaled.open:
            window, total = scaled.windows[demand], totals(choices)[demand]
            least = sums.least(window)
            _at_least(choices, choices.served[demand], total, least, less)
            for kind in scaled.usable(demand):
                cost = sums.least_with(window, kind)
                # What already holds for the whole stack need not be added for a piece.
                if cost is None or cost != least:
                    _at_least(choices, choices.used(demand, kind), total, cost, less)
            yield

    return rule


def _at_least(
    choices: Choices, when: cp_model.IntVar, total: cp_model.IntVar, cost: int | None, less: int
) -> None:
    """Where ``when`` is 1, the total is at least the cost; without a cost it is 0."""
    if cost is None:
        choices.model.add(when == 0)
    else:
        choices.at_least(total, cost - less, when=when)
