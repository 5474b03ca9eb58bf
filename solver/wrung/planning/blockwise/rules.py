"""The rules of the model over single blocks: what makes a plan a plan."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

from wrung.metrology.error_measure import QUANTA_A_STEP
from wrung.planning.blockwise.choices import Choices, Rule
from wrung.planning.blockwise.scaled import Scaled


def reach(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """A stack's nominal length lies in the demand's window.

    A demand without a window is not served.
    """
    for demand, window in enumerate(scaled.windows):
        served = choices.served[demand]
        if window:
            length = choices.total(demand, scaled.nominals)
            choices.model.add(length >= window[0] * served)
            choices.model.add(length <= window[-1] * served)
        else:
            choices.model.add(served == 0)
        yield


def block_count(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """A stack has at least one block and at most as many as the demand allows.

    A demand that is not served has no blocks.
    """
    for index, demand in enumerate(scaled.problem.demands):
        blocks, served = choices.blocks[index], choices.served[index]
        choices.model.add(choices.sum([*choices.uses(index).values()]) == blocks)
        choices.model.add(blocks >= served)
        choices.model.add(blocks <= demand.most * served)
        yield


def wear_count(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """A stack has exactly the wear blocks that were asked for.

    Where none were asked for, the choices hold no wear blocks anyway.
    """
    wear = [int(scaled.problem.pieces[pieces[0]].wear) for pieces in scaled.pieces]
    for index, demand in enumerate(scaled.problem.demands):
        if demand.wear:
            wanted = demand.wear * choices.served[index]
            choices.model.add(choices.total(index, wear) == wanted)
            yield


def step_count(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """A stack has at most one step of a step block."""
    steps = [int(scaled.problem.pieces[pieces[0]].step) for pieces in scaled.pieces]
    if any(steps):
        for demand in range(len(scaled.problem.demands)):
            choices.model.add(choices.total(demand, steps) <= 1)
            yield


def single_use(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Demands that are needed at one time use no block twice, whichever way round or step."""
    said = set[tuple[int, ...]]()
    for clique in scaled.problem.cliques:
        yield
        for kinds in scaled.same_blocks:
            uses = [
                choices.uses(k)[kind] for k in clique for kind in kinds if kind in choices.uses(k)
            ]
            # What several cliques say alike is said once.
            key = tuple(use.index for use in uses)
            if len(uses) < 2 or key in said:  # noqa: PLR2004 -- one stack alone is held by its variable's range
                continue
            said.add(key)
            count = len(scaled.pieces[kinds[0]])
            if count == 1:
                choices.model.add_at_most_one(uses)
            else:
                choices.model.add(choices.sum(uses) <= count)


def worst_case(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """A stack's error is at least its worst case, and the largest error at least each stack's.

    That is |sum of nominals and deviations - target| + sum of margins + joints * joint allowance.
    Both are only bounded from below, which is enough where they are minimised.

    A demand that is not served has no error.
    """
    if scaled.problem.measure.squares:
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


def squares(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """Where offsets count squared, an error is at least the square plus the variance.

    Errors are in (0.1 nm)² and offsets in quanta, a tenth of a tenth; the square is rounded down.

    A demand that is not served is not off and has no error.
    """
    if not scaled.problem.measure.squares:
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


def most_error(scaled: Scaled, choices: Choices) -> Iterator[None]:
    """A stack's error is no larger than its demand allows.

    Elsewhere errors are only bounded from below, so an upper bound means just this: there is a
    stack whose error is no larger.
    """
    for demand in scaled.open:
        most = scaled.problem.demands[demand].most_error
        if most is not None:
            # A limit above every error would be too large for the solver's whole numbers.
            grains = min(most // scaled.grain, scaled.worst)
            choices.model.add(choices.errors[demand] <= grains * choices.served[demand])
        yield


def unlike(demand: int, stacks: Sequence[Sequence[int]]) -> Rule:
    """The stack of a demand differs from these in the number of pieces of some kind."""

    def differ(scaled: Scaled, choices: Choices) -> Iterator[None]:
        for stack in stacks:
            counts = Counter(scaled.kind_of[piece] for piece in stack)
            other = [choices.model.new_bool_var("") for _ in choices.uses(demand)]
            for flag, (kind, use) in zip(other, choices.uses(demand).items(), strict=True):
                constraint = choices.model.add(use != counts[kind])
                constraint.only_enforce_if(flag)  # pyright: ignore[reportUnknownMemberType] -- untyped lists
            choices.model.add_bool_or(other)
            yield

    return differ


RULES: Final[tuple[Rule, ...]] = (
    reach,
    block_count,
    wear_count,
    step_count,
    single_use,
    worst_case,
    squares,
    most_error,
)
"""What every plan keeps to."""
