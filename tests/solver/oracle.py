"""An exhaustive search over small problems, written from the contract and from nothing else.

It tries every set of blocks for every requirement and every way to put them side by side, so it is
slow and plain: use it for up to about 8 blocks and 4 requirements. Property tests hold the engines
to its totals. It reads blocks and requirements only and shares no code with planning.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from itertools import combinations, pairwise
from typing import TypeAlias

from msgspec import Struct

from wrung import grades
from wrung.answers import Objective
from wrung.blocks import Block, margin
from wrung.preferences import Preference
from wrung.stack_names import StackName
from wrung.targets import Requirement

OraclePlan: TypeAlias = tuple[tuple[str, ...] | None, ...]
"""Per requirement the ids of its blocks, or None where it is not served."""

Key: TypeAlias = tuple[int, ...]
"""What is compared: minus the stacks served of each priority, the most urgent first, then the
objective's three values in their order."""

Measure: TypeAlias = Callable[[Sequence[Block], Requirement], int]
"""The error of a stack, where it is not the worst case of the contract."""

_WEAR: dict[str, int] = {"none": 0, "one": 1, "both": 2}


class Candidate(Struct, frozen=True, kw_only=True):
    """A stack that holds every rule of one requirement, and its worst-case error in quanta.

    Its ``bodies`` are what it takes off the shelf: of a step block its first step stands for all.
    """

    blocks: frozenset[int]
    bodies: frozenset[int]
    error: int


class Best(Struct, frozen=True, kw_only=True):
    """The best there is: a plan, how many it serves, and its totals (errors in quanta).

    Attributes:
        by_priority: how many it serves of each priority, the most urgent first.
    """

    plan: OraclePlan
    served: int
    by_priority: tuple[int, ...]
    total_blocks: int
    largest_error: int
    total_error: int


def candidates(
    blocks: Sequence[Block],
    requirement: Requirement,
    joint_allowance: int,
    measure: Measure | None = None,
) -> list[Candidate]:
    """Every stack that can be built for a requirement if no other needs the blocks."""
    error = measure or (lambda stack, wanted: _error(stack, wanted, joint_allowance))
    return [
        Candidate(
            blocks=frozenset(chosen),
            bodies=bodies_of(blocks, chosen),
            error=error([blocks[i] for i in chosen], requirement),
        )
        for count in range(1, len(blocks) + 1)
        for chosen in combinations(range(len(blocks)), count)
        if _holds([blocks[i] for i in chosen], requirement)
    ]


def best(  # noqa: PLR0913 -- the options of the planner
    blocks: Sequence[Block],
    requirements: Sequence[Requirement],
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = 0,
    measure: Measure | None = None,
    most_errors: Sequence[int | None] = (),
) -> Best:
    """The best plan: most served of each priority first, then by the objective.

    With ``most_errors``, one a requirement, of stacks whose errors are no larger.
    """
    limits = most_errors or (None,) * len(requirements)
    choices = [
        [
            stack
            for stack in candidates(blocks, wanted, joint_allowance, measure)
            if most is None or stack.error <= most
        ]
        for wanted, most in zip(requirements, limits, strict=True)
    ]
    plan = min(
        _plans(requirements, choices, ()), key=lambda plan: _key(requirements, plan, objective)
    )
    served = [stack for stack in plan if stack is not None]
    return Best(
        plan=tuple(
            None if stack is None else tuple(blocks[i].id for i in sorted(stack.blocks))
            for stack in plan
        ),
        served=len(served),
        by_priority=by_priority(requirements, [stack is not None for stack in plan]),
        total_blocks=sum(len(stack.blocks) for stack in served),
        largest_error=max((stack.error for stack in served), default=0),
        total_error=sum(stack.error for stack in served),
    )


def least_changes(
    blocks: Sequence[Block],
    requirements: Sequence[Requirement],
    served: Sequence[StackName],
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = 0,
) -> int:
    """Least blocks that change between stacks in turn, of the best plans that serve just these."""
    kept = [wanted for wanted in requirements if wanted.name in served]
    choices = [candidates(blocks, wanted, joint_allowance) for wanted in kept]
    plans = [plan for plan in _plans(kept, choices, ()) if None not in plan]
    best_key = min(_key(kept, plan, objective) for plan in plans)
    return min(_changes(kept, plan) for plan in plans if _key(kept, plan, objective) == best_key)


def least_preferred(  # noqa: PLR0913 -- the options of the planner
    blocks: Sequence[Block],
    requirements: Sequence[Requirement],
    served: Sequence[StackName],
    preferences: Sequence[Preference],
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = 0,
) -> tuple[int, ...]:
    """By preference, in order, the least of the best plans that serve just these."""
    kept = [wanted for wanted in requirements if wanted.name in served]
    choices = [candidates(blocks, wanted, joint_allowance) for wanted in kept]
    plans = [plan for plan in _plans(kept, choices, ()) if None not in plan]

    def compared(plan: _Chosen) -> tuple[int, ...]:
        stacks = [stack.blocks for stack in plan if stack is not None]
        return (
            *_key(kept, plan, objective),
            _changes(kept, plan),
            *(_preferred(blocks, stacks, each) for each in preferences),
        )

    return min(map(compared, plans))[-len(preferences) :]


def _preferred(blocks: Sequence[Block], stacks: Sequence[frozenset[int]], asked: Preference) -> int:
    used = Counter(i for stack in stacks for i in stack)
    if asked.goal == "spread_wear":
        # Of squares, as these say how even wear is; all plans compared have as many blocks.
        after = sum((blocks[i].uses + n) ** 2 - blocks[i].uses ** 2 - n for i, n in used.items())
        return after // 2
    if asked.goal == "prefer_set":
        return sum(n for i, n in used.items() if blocks[i].set != asked.set)
    return sum(n for i, n in used.items() if _is_best(blocks[i], blocks))


def _is_best(block: Block, blocks: Sequence[Block]) -> bool:
    """It is better than some block of its length and role, and none is better than it."""
    alike = [b for b in blocks if b.nominal == block.nominal and b.role == block.role]
    return any(_better(block, b) for b in alike) and not any(_better(b, block) for b in alike)


def _better(one: Block, other: Block) -> bool:
    """By grade, else by margin."""
    if one.grade and other.grade:
        mine, yours = (grades.grade(b.grade or "", b.unit).row(b.nominal) for b in (one, other))
        if mine.variation and yours.variation and mine.variation != yours.variation:
            return mine.variation < yours.variation
        if mine.plus != yours.plus:
            return mine.plus < yours.plus
    return margin(one) < margin(other)


def every_served(
    blocks: Sequence[Block], requirements: Sequence[Requirement]
) -> Iterator[frozenset[StackName]]:
    """What is served, for every way to put stacks side by side."""
    choices = [candidates(blocks, wanted, 0) for wanted in requirements]
    for plan in _plans(requirements, choices, ()):
        pairs = zip(requirements, plan, strict=True)
        yield frozenset(wanted.name for wanted, stack in pairs if stack is not None)


def ranked(  # noqa: PLR0913 -- the options of the planner
    blocks: Sequence[Block],
    requirement: Requirement,
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = 0,
    measure: Measure | None = None,
    most_error: int | None = None,
) -> list[tuple[int, int]]:
    """What every stack of a requirement comes to by the objective, best first.

    Stacks that differ only in which of several interchangeable blocks they have are one. A
    ``measure`` must add over blocks.
    """
    distinct = {
        tuple(sorted(_kind(blocks[i], measure) for i in stack.blocks)): (
            len(stack.blocks),
            stack.error,
        )
        for stack in candidates(blocks, requirement, joint_allowance, measure)
        if most_error is None or stack.error <= most_error
    }
    few = objective == "fewest_blocks"
    return sorted((n, error) if few else (error, n) for n, error in distinct.values())


def frontier(
    blocks: Sequence[Block],
    requirements: Sequence[Requirement],
    *,
    joint_allowance: int = 0,
    measure: Measure | None = None,
    most_error: int | None = None,
) -> list[tuple[int, int, int]]:
    """Blocks, largest and least total error of all plans that serve the most and are not beaten.

    A plan is beaten if another has no more blocks and no larger error, and less of one of them.
    """
    choices = [
        [
            stack
            for stack in candidates(blocks, wanted, joint_allowance, measure)
            if most_error is None or stack.error <= most_error
        ]
        for wanted in requirements
    ]
    keys = {_key(requirements, plan, "fewest_blocks") for plan in _plans(requirements, choices, ())}
    most = min(key[:-3] for key in keys)
    points: list[tuple[int, int, int]] = []
    for *served, count, largest, total in sorted(keys):
        if tuple(served) == most and any(most) and (not points or largest < points[-1][1]):
            points.append((count, largest, total))
    return points


def overlap(one: Requirement, other: Requirement) -> bool:
    """Whether two requirements are needed at one time; an end is not included.

    The steps of one sequence are built one after another and never stand at once.
    """
    if one.turn and other.turn and one.turn.of == other.turn.of and one.turn != other.turn:
        return False
    return _start(one) < _end(other) and _start(other) < _end(one)


_Chosen: TypeAlias = tuple[Candidate | None, ...]


def _plans(
    requirements: Sequence[Requirement], choices: Sequence[Sequence[Candidate]], chosen: _Chosen
) -> Iterator[_Chosen]:
    turn = len(chosen)
    if turn == len(requirements):
        yield chosen
        return
    taken: set[int] = set()
    for before, stack in zip(requirements, chosen, strict=False):
        if stack is not None and overlap(before, requirements[turn]):
            taken |= stack.bodies
    for stack in choices[turn]:
        if not stack.bodies & taken:
            yield from _plans(requirements, choices, (*chosen, stack))
    yield from _plans(requirements, choices, (*chosen, None))


def bodies_of(blocks: Sequence[Block], chosen: Sequence[int]) -> frozenset[int]:
    """The first of those that share a step block with each of these; of any other block itself."""
    known = [block.body for block in blocks]
    return frozenset(i if known[i] is None else known.index(known[i]) for i in chosen)


def steps_fit(stack: Sequence[Block], requirement: Requirement) -> bool:
    """At most one is a step of a step block, and none where wear blocks take both ends."""
    steps = sum(block.body is not None for block in stack)
    allowed = requirement.takes_step and requirement.wear_blocks != "both"
    return steps == 0 or (steps == 1 and allowed)


def _kind(block: Block, measure: Measure | None) -> tuple[int, int, int, str, str]:
    if measure is not None:
        alone = measure([block], Requirement(target="alone", length=block.nominal))
        return (block.nominal, 0, alone, block.role, block.body or "")
    return (block.nominal, block.deviation or 0, margin(block), block.role, block.body or "")


def by_priority(requirements: Sequence[Requirement], served: Sequence[bool]) -> tuple[int, ...]:
    """How many are served of each priority, those without one last."""
    # No priority is later than any that there is.
    found = dict.fromkeys(sorted(each.priority or 1000 for each in requirements), 0)
    for wanted, is_served in zip(requirements, served, strict=True):
        found[wanted.priority or 1000] += is_served
    return tuple(found.values())


def _key(requirements: Sequence[Requirement], plan: _Chosen, objective: Objective) -> Key:
    first = [-count for count in by_priority(requirements, [stack is not None for stack in plan])]
    served = [stack for stack in plan if stack is not None]
    count = sum(len(stack.blocks) for stack in served)
    largest = max((stack.error for stack in served), default=0)
    total = sum(stack.error for stack in served)
    if objective == "fewest_blocks":
        return (*first, count, largest, total)
    return (*first, largest, total, count)


def _changes(requirements: Sequence[Requirement], plan: _Chosen) -> int:
    """Blocks of one step of a sequence and not of the next, and the other way round.

    A step block whose other step is used stays.
    """
    turns: dict[str | None, dict[tuple[int, ...], frozenset[int]]] = {}
    for wanted, stack in zip(requirements, plan, strict=True):
        if wanted.turn is not None and stack is not None:
            steps = turns.setdefault(wanted.turn.of, {})
            steps[wanted.turn.step] = steps.get(wanted.turn.step, frozenset()) | stack.bodies
    ordered = ([steps[step] for step in sorted(steps)] for steps in turns.values())
    return sum(len(a ^ b) for steps in ordered for a, b in pairwise(steps))


def _holds(stack: Sequence[Block], requirement: Requirement) -> bool:
    difference = sum(block.nominal for block in stack) - requirement.length
    wear = sum(block.role == "wear" for block in stack)
    return (
        requirement.tolerance.lower <= difference <= requirement.tolerance.upper
        and wear == _WEAR[requirement.wear_blocks]
        and (requirement.max_blocks is None or len(stack) <= requirement.max_blocks)
        and steps_fit(stack, requirement)
    )


def _error(stack: Sequence[Block], requirement: Requirement, joint_allowance: int) -> int:
    off = sum(block.nominal + (block.deviation or 0) for block in stack) - requirement.length
    return abs(off) + sum(margin(block) for block in stack) + (len(stack) - 1) * joint_allowance


def _start(requirement: Requirement) -> datetime:
    return requirement.needed_from or datetime.min.replace(tzinfo=UTC)


def _end(requirement: Requirement) -> datetime:
    return requirement.needed_until or datetime.max.replace(tzinfo=UTC)
