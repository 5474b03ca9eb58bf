"""Trying everything, for up to 12 blocks and 4 stacks: every set of blocks, side by side.

It leaves out only what is plainly no better than what it has, so that thousands of requests can be
tried; `solver.oracle`, which leaves out nothing, holds it to the same. It reads blocks and
requirements only and shares no code with planning.
"""

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import TypeAlias

from msgspec import Struct

from solver.oracle import (
    Best,
    Candidate,
    Measure,
    bodies_of,
    by_priority,
    overlap,
    steps_fit,
)
from wrung import Block, Objective, Requirement
from wrung.blocks import margin
from wrung.stack_names import StackName

_Chosen: TypeAlias = tuple[Candidate | None, ...]
_WEAR = {"none": 0, "one": 1, "both": 2}


class Question(Struct, frozen=True, kw_only=True):
    """What is tried; an error that is not the contract's is given by its measure.

    Attributes:
        most_errors: by name of a requirement, what its stack's error may be at most.
    """

    blocks: Sequence[Block]
    objective: Objective
    joint_allowance: int
    measure: Measure | None = None
    most_errors: Mapping[StackName, int]


def try_everything(question: Question, requirements: Sequence[Requirement]) -> Best:
    """The best plan."""
    sets = _sets(question.blocks)
    choices = [_choices(question, sets, wanted) for wanted in requirements]
    plan = _best_plan(requirements, choices, question.objective)
    served = [stack for stack in plan if stack is not None]
    return Best(
        plan=tuple(
            None if stack is None else tuple(question.blocks[i].id for i in sorted(stack.blocks))
            for stack in plan
        ),
        served=len(served),
        by_priority=by_priority(requirements, [stack is not None for stack in plan]),
        total_blocks=sum(len(stack.blocks) for stack in served),
        largest_error=max((stack.error for stack in served), default=0),
        total_error=sum(stack.error for stack in served),
    )


def _sets(blocks: Sequence[Block]) -> list[tuple[int, tuple[int, ...]]]:
    """Every set of blocks but the empty one, with its nominal length."""
    return [
        (sum(blocks[i].nominal for i in chosen), chosen)
        for count in range(1, len(blocks) + 1)
        for chosen in combinations(range(len(blocks)), count)
    ]


def _choices(
    question: Question, sets: Sequence[tuple[int, tuple[int, ...]]], wanted: Requirement
) -> list[Candidate]:
    """Every stack of the requirement, the best by itself first."""
    low, high = wanted.length + wanted.tolerance.lower, wanted.length + wanted.tolerance.upper
    most = wanted.max_blocks or len(question.blocks)
    found = [
        Candidate(
            blocks=frozenset(chosen),
            bodies=bodies_of(question.blocks, chosen),
            error=_error(question, chosen, wanted),
        )
        for length, chosen in sets
        if low <= length <= high
        and len(chosen) <= most
        and sum(question.blocks[i].role == "wear" for i in chosen) == _WEAR[wanted.wear_blocks]
        and steps_fit([question.blocks[i] for i in chosen], wanted)
    ]
    limit = question.most_errors.get(wanted.name)
    kept = [stack for stack in found if limit is None or stack.error <= limit]
    return sorted(kept, key=lambda stack: _figures((stack,), question.objective))


def _error(question: Question, chosen: Sequence[int], wanted: Requirement) -> int:
    stack = [question.blocks[i] for i in chosen]
    if question.measure is not None:
        return question.measure(stack, wanted)
    off = sum(block.nominal + (block.deviation or 0) for block in stack) - wanted.length
    joints = (len(stack) - 1) * question.joint_allowance
    return abs(off) + sum(map(margin, stack)) + joints


def _best_plan(
    requirements: Sequence[Requirement],
    choices: Sequence[Sequence[Candidate]],
    objective: Objective,
) -> _Chosen:
    """Part by part; one that can only grow worse than the best so far is not followed.

    None of the figures shrinks with a further stack, but that one more is served: so a part is at
    best as good as if all the rest were served at no cost.
    """
    best: _Chosen = (None,) * len(requirements)
    parts: list[_Chosen] = [()]
    while parts:
        part = parts.pop()
        left = len(requirements) - len(part)
        if _key(requirements, part, objective) >= _key(requirements, best, objective):
            continue
        if not left:
            best = part
            continue
        taken = _taken(requirements, part)
        free = [stack for stack in choices[len(part)] if not stack.bodies & taken]
        # The last is followed first: the best stack by itself, and none at all only in the end.
        parts.extend((*part, stack) for stack in reversed([*free, None]))
    return best


def _taken(requirements: Sequence[Requirement], part: _Chosen) -> frozenset[int]:
    """What the stacks so far hold while the next one is needed."""
    turn = requirements[len(part)]
    held = (
        stack.bodies
        for before, stack in zip(requirements, part, strict=False)
        if stack is not None and _at_one_time(before, turn)
    )
    return frozenset().union(*held)


def _at_one_time(one: Requirement, other: Requirement) -> bool:
    """Steps of one sequence are built one after another and never stand at once."""
    in_turn = one.turn and other.turn and one.turn.of == other.turn.of and one.turn != other.turn
    return not in_turn and overlap(one, other)


def _key(
    requirements: Sequence[Requirement], part: _Chosen, objective: Objective
) -> tuple[int, ...]:
    """What the contract compares, if all that is not decided is served at no cost.

    Minus the stacks served of each priority, the most urgent first, then three figures.
    """
    left = len(requirements) - len(part)
    served = [stack is not None for stack in part] + [True] * left
    missing = (-count for count in by_priority(requirements, served))
    return (*missing, *_figures(part, objective))


def _figures(plan: _Chosen, objective: Objective) -> tuple[int, int, int]:
    """The three figures in their order."""
    served = [stack for stack in plan if stack is not None]
    count = sum(len(stack.blocks) for stack in served)
    largest = max((stack.error for stack in served), default=0)
    total = sum(stack.error for stack in served)
    if objective == "fewest_blocks":
        return (count, largest, total)
    return (largest, total, count)
