"""The model over single blocks with the last goal, for problems too large for candidate tables."""

from collections.abc import Iterator, Sequence

from msgspec import Struct
from ortools.sat.python import cp_model

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import Choices
from wrung.planning.blockwise.implied import place_value
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled, scale
from wrung.planning.blockwise.solving import Aim, Result, model_of, solve
from wrung.planning.finding import Plan, Totals
from wrung.planning.problem import Problem
from wrung.planning.succession.counting import Step


class Last(Struct, frozen=True, kw_only=True):
    """What is asked for.

    Attributes:
        problem: every demand of it is served.
        values: no plan may be worse than this by any of them.
        pairs: steps that follow one another.
        start: a plan that holds all this.
        least: no plan changes fewer blocks.
    """

    problem: Problem
    values: Totals
    pairs: Sequence[tuple[Step, Step]]
    start: Plan
    least: int


def fewest_changes(last: Last, deadline: Deadline, effort: float) -> Result:
    """The plan that changes the fewest blocks, if there is time to find one."""
    scaled = scale(last.problem)
    # What stays from step to step is a variable, too, for each kind. Here it matters which of two
    # identical demands is first, so their order is not fixed.
    choices = model_of(scaled, (*RULES, place_value), deadline, len(last.pairs))
    if choices is None:
        return Result(verdict="unknown")
    _keep_values(choices, scaled, last.values)
    changes = _changes(choices, last.pairs, deadline)
    if changes is None:
        return Result(verdict="unknown")
    # Proven elsewhere: a plan that meets it ends the search.
    choices.model.add(changes >= last.least)
    return solve(choices, Aim(objective=changes), last.start, deadline, effort)


def _keep_values(choices: Choices, scaled: Scaled, values: Totals) -> None:
    choices.serve_at_least(scaled.problem.sizes)
    choices.model.add(choices.sum(choices.blocks) <= values.blocks)
    choices.model.add(choices.largest <= values.largest_error // scaled.grain)
    choices.model.add(choices.sum(choices.errors) <= values.total_error // scaled.grain)


def _changes(
    choices: Choices, pairs: Sequence[tuple[Step, Step]], deadline: Deadline
) -> cp_model.LinearExpr | None:
    """Blocks of both steps of each pair, less those that stay, which are of both.

    None if the time is up before it is complete.
    """
    steps = [step for pair in pairs for step in pair]
    both = choices.sum([choices.blocks[demand] for step in steps for demand in step])
    stays: list[cp_model.IntVar] = []
    for pair in pairs:
        stays += _stays(choices, *pair)
        if deadline.passed:
            return None
    return both - 2 * choices.sum(stays)


def _stays(choices: Choices, before: Step, after: Step) -> Iterator[cp_model.IntVar]:
    """For each kind that both steps can use, how many pieces of it they share at most."""
    one, other = _uses(choices, before), _uses(choices, after)
    for kind in one.keys() & other.keys():
        # Only bounded from above, as fewest changes means that most stay.
        stay = choices.model.new_int_var(0, choices.most(kind), "")
        choices.model.add(stay <= choices.sum(one[kind]))
        choices.model.add(stay <= choices.sum(other[kind]))
        yield stay


def _uses(choices: Choices, step: Step) -> dict[int, list[cp_model.IntVar]]:
    """By kind, how many pieces of it stand in each stack of the step."""
    found: dict[int, list[cp_model.IntVar]] = {}
    for demand in step:
        for kind, use in choices.uses(demand):
            found.setdefault(kind, []).append(use)
    return found
