"""The checker's count of the blocks that change between stacks that follow one another."""

from collections.abc import Iterable, Mapping

from wrung.answers import Answer, Stack
from wrung.stack_names import StackName
from wrung.targets import Requirement


def changes_fault(answer: Answer, requirements: Mapping[StackName, Requirement]) -> str | None:
    """What is wrong with the changes that an answer states, in a sentence; None if nothing is."""
    known = [stack for stack in answer.stacks if stack.name in requirements]
    counts = _counts((stack, requirements[stack.name].sequence) for stack in known)
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


def _counts(stacks: Iterable[tuple[Stack, str | None]]) -> list[int]:
    """Blocks of one stack and not of the other, for each stack and the next of its sequence."""
    in_hand: dict[str, set[str]] = {}
    counts: list[int] = []
    for stack, sequence in stacks:
        if sequence is None:
            continue
        names = {placed.id for placed in stack.blocks}
        if sequence in in_hand:
            counts.append(len(in_hand[sequence] ^ names))
        in_hand[sequence] = names
    return counts
