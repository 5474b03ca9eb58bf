"""A stack has one of the lengths that can be built in its window, and an error to go with it.

In a wide window the error may be anything from nothing to the width, yet only few values of it
occur. If each of these is given, the solver need not creep from one possible error to the next.
"""

from collections.abc import Iterator

import numpy as np

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.least_sums import Ints, LeastSums
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.rules import Rule
from wrung.tuning import TUNING, Tuning


def window_lengths(over: LeastSums, under: LeastSums, tuning: Tuning = TUNING) -> Rule:
    """The rule; the sums are of burden plus deviation and of burden less deviation."""

    def rule(scaled: Scaled, choices: Choices) -> Iterator[None]:
        for demand in scaled.open:
            if len(scaled.windows[demand]) > 1:
                beyond, errors = _least_errors(scaled, demand, over, under)
                _choose_one(choices, demand, beyond, errors, tuning.lengths_told_apart)
            yield

    return rule


def _least_errors(
    scaled: Scaled, demand: int, over: LeastSums, under: LeastSums
) -> tuple[Ints, Ints]:
    """The lengths, as steps beyond the first, and the least error of each, smallest error first."""
    window = scaled.windows[demand]
    lengths, more = over.each(window)
    _, less = under.each(window)
    beyond = lengths - window.start
    off = scaled.offset(demand) + beyond * scaled.stride
    errors = np.maximum(np.maximum(more + off, less - off) - scaled.joint, 0)
    order = np.argsort(errors, kind="stable")
    return beyond[order], errors[order]


def _choose_one(choices: Choices, demand: int, beyond: Ints, errors: Ints, told_apart: int) -> None:
    flags = [choices.model.new_bool_var("") for _ in range(min(len(errors), told_apart + 1))]
    for flag, length, error in zip(flags, beyond.tolist(), errors.tolist(), strict=False):
        choices.at_least(choices.errors[demand], error, when=flag)
        # The last flag may stand for all other lengths, none of which has a smaller error.
        if flag is not flags[-1] or len(errors) <= told_apart:
            choices.equal(choices.beyond(demand), length, when=flag)
    choices.model.add(choices.sum(flags) == choices.served[demand])
