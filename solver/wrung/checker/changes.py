"""The checker's count of the blocks that change between steps that follow one another."""

from collections.abc import Iterator, Mapping
from itertools import pairwise

from wrung.answers import Answer
from wrung.blocks import Block
from wrung.checker.steps import body_of
from wrung.stack_names import StackName
from wrung.targets import Requirement


def changes_fault(
    answer: Answer, requirements: Mapping[StackName, Requirement], shelf: Mapping[str, Block]
) -> str | None:
    """What is wrong with the changes that an answer states, in a sentence; None if nothing is."""
    counts = list(_counts(answer, requirements, shelf))
    changed, said = sum(counts), answer.changes
    if said is None:
        return f"{changed} blocks change, and nothing is said of it" if counts else None
    if not counts or said.block_changes != changed:
        return f"{changed} blocks change between the stacks, not {said.block_changes}"
    return None


def changes_bound_fault(answer: Answer) -> str | None:
    """What is wrong with the bound on changes, likewise."""
    said = answer.changes
    if said is not None and not 0 <= said.lower_bound <= said.block_changes:
        return f"{said.lower_bound} cannot be a bound of {said.block_changes}"
    return None


def _counts(
    answer: Answer, requirements: Mapping[StackName, Requirement], shelf: Mapping[str, Block]
) -> Iterator[int]:
    """Blocks of one step and not of the other, for each step with stacks and the next of them."""
    in_use: dict[str | None, dict[tuple[int, ...], set[tuple[str, bool]]]] = {}
    for stack in answer.stacks:
        wanted = requirements.get(stack.name)
        if wanted is not None and wanted.turn is not None:
            steps = in_use.setdefault(wanted.turn.of, {})
            bodies = {body_of(placed.id, shelf) for placed in stack.blocks}
            steps.setdefault(wanted.turn.step, set()).update(bodies)
    for steps in in_use.values():
        for one, other in pairwise(sorted(steps)):
            yield len(steps[one] ^ steps[other])
