"""Implied constraints: what follows from the rules, but the solver does not see by itself.

With them proofs take milliseconds instead of seconds. Those over identical demands break their
symmetry.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from ortools.sat.python import cp_model

from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.least_sums import Ints, LeastSums
from wrung.planning.blockwise.rules import Rule
from wrung.planning.blockwise.scaled import Scaled
from wrung.tuning import TUNING, Tuning


def place_value(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Clear the right-most digit first: at each place value, pieces leave what the stack leaves."""
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


def alike_demands(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Identical demands differ only in their order, so one order is fixed to break the symmetry.

    The first of them are served first, those with fewer blocks before those with more. Any plan can
    be brought into that order by swapping stacks.
    """
    last: dict[tuple[object, ...], int] = {}
    for demand in scaled.open:
        before = last.get(key := _key(scaled, demand))
        last[key] = demand
        if before is not None:
            first, second = choices.served[before], choices.served[demand]
            choices.model.add_implication(second, first)
            choices.at_least(choices.blocks[demand], choices.blocks[before], when=second)
        yield


def _key(scaled: Scaled, demand: int) -> tuple[object, ...]:
    own = scaled.problem.demands[demand]
    cliques = tuple(demand in clique for clique in scaled.problem.cliques)
    limits = (own.most, own.wear, own.most_error)
    return (own.target, own.low, own.high, *limits, own.priority_class, cliques)


def least_blocks_alone(sums: LeastSums) -> Rule:
    """A stack has no fewer blocks than alone, with the whole shelf; ``sums`` count 1 a piece.

    This holds for the stack as a whole, and for a stack that contains a given piece: it keeps
    pieces out of stacks whose rest cannot be made up cheaply enough.
    """
    return _least_alone(sums, lambda choices: choices.blocks, lambda _: 0)


def least_error_alone(sums: LeastSums) -> Rule:
    """The same for errors; ``sums`` count each piece's burden, which is one joint too many."""
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


def window_lengths(over: LeastSums, under: LeastSums, tuning: Tuning = TUNING) -> Rule:
    """A stack has one of the lengths that can be built in its window, and an error to go with it.

    In a wide window the error may be anything from nothing to the width, yet only few values of it
    occur. If each of these is given, the solver need not creep from one possible error to the next.

    The sums are of burden plus deviation and of burden less deviation.
    """

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


def place_values(lengths: Iterable[int], tuning: Tuning = TUNING) -> tuple[int, ...]:
    """Steps of the series among the lengths: each stands between three neighbours or more.

    Of the inch 81-piece set they are 0.0001, 0.001, 0.050 and 1 in: whatever stack is built, only
    the blocks that are not multiples of 0.050 in decide the remainder after division by it.

    A step of 1 says nothing about whole numbers and is left out. If there are many steps, those
    that divide the most lengths are kept.
    """
    distinct = sorted(set(lengths))
    gaps = [longer - shorter for shorter, longer in pairwise(distinct)]
    steps = {gap for gap, after in pairwise(gaps) if gap == after and gap > 1}
    telling = sorted(steps, key=lambda step: (sum(n % step > 0 for n in distinct), step))
    return tuple(sorted(telling[: tuning.most_place_values]))


def residues(lengths: Sequence[int], place: int) -> tuple[int, ...]:
    """The remainder of each length after division by the place value."""
    return tuple(length % place for length in lengths)
