"""Instructions for every stack of an answer, with the cautions of what each is for."""

from collections.abc import Iterator, Sequence

from msgspec import Struct

from wrung.answers import Answer, Stack
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.handwork.angle_steps import angle_instructions
from wrung.handwork.instructions import Instructions, instructions
from wrung.handwork.order import wringing_order
from wrung.handwork.temperatures import Apart, apart
from wrung.handwork.uses import uses
from wrung.handwork.work import Series, Work, alone
from wrung.lengths import Unit
from wrung.metrology.conditions import STANDARD, Conditions
from wrung.stack_names import StackName
from wrung.targets import AngleBlocksResult, AngleBlocksTarget, Target, TargetResult, Turn
from wrung.texts import Phrase


@typed
def handwork(  # noqa: PLR0913 - as the answer was asked for
    answer: Answer,
    targets: Sequence[Target],
    results: Sequence[TargetResult],
    blocks: Sequence[Block],
    *,
    unit: Unit = "mm",
    conditions: Conditions = STANDARD,
) -> tuple[Instructions, ...]:
    """Instructions in the order of the stacks, then for the targets of angle blocks.

    Stacks of one target that follow one another are one series: their blocks are fetched, cleaned
    and brought to temperature together before the first, and put away after the last. Targets that
    follow one another may be hours apart, so that each is built and put away by itself.

    Args:
        answer: what `wrung.solve` said.
        targets: the targets that it was asked for.
        results: what the answer comes to for them, see `wrung.targets.results`; those of plain
            lengths may be left out.
        blocks: the blocks that it was given.
        unit: of the instruments at the bench.
        conditions: those that the results are for; they say where stack and work are not equally
            warm.
    """
    found = {result.target: result for result in results}
    purposes = _purposes(answer, targets, found, unit)
    serial = _series(answer, purposes)
    written = [
        instructions(
            Work(
                stack=stack,
                shelf=blocks,
                series=series,
                uses=purpose.uses,
                unit=unit,
                apart=_apart(purpose.target, conditions),
            ),
            cautions=purpose.target.cautions_in_use,
            stands=purpose.target.stands,
        )
        for stack, series in zip(answer.stacks, serial, strict=True)
        for purpose in (purposes[stack.name],)
    ]
    return (*written, *_angles(targets, found))


def _apart(target: Target, conditions: Conditions) -> Apart | None:
    # Angle blocks are compared with nothing that grows.
    return None if isinstance(target, AngleBlocksTarget) else apart(target.in_use(conditions))


class _Purpose(Struct, frozen=True, kw_only=True):
    """What a stack is for."""

    target: Target
    in_series: bool
    uses: tuple[Phrase, ...]


def _purposes(
    answer: Answer, targets: Sequence[Target], found: dict[str, TargetResult], unit: Unit
) -> dict[StackName, _Purpose]:
    purposes: dict[StackName, _Purpose] = {}
    for target in targets:
        done = list(uses(target, found.get(target.ref), answer.stacks, unit=unit))
        for requirement in target.requirements():
            purposes[requirement.name] = _Purpose(
                target=target,
                in_series=_in_series(requirement.turn),
                uses=tuple(said for role, said in done if role == requirement.role),
            )
    return purposes


def _series(answer: Answer, purposes: dict[StackName, _Purpose]) -> Iterator[Series]:
    """For each stack where it stands among those of its series."""
    together: dict[str, list[Stack]] = {}
    for stack in answer.stacks:
        if purposes[stack.name].in_series:
            together.setdefault(stack.target, []).append(stack)
    for stack in answer.stacks:
        stacks = together.get(stack.target)
        yield alone(stack) if stacks is None else _place(stack, stacks)


def _in_series(turn: Turn | None) -> bool:
    """Whether a stack is one of several of its target that follow one another."""
    return turn is not None and (turn.of is not None or len(turn.step) > 1)


def _place(stack: Stack, stacks: Sequence[Stack]) -> Series:
    at = stacks.index(stack)
    # A step block is one thing to take out, whichever of its steps are used.
    blocks = {b.taken_as: b for each in reversed(stacks) for b in each.blocks}
    return Series(
        blocks=wringing_order(blocks.values()),
        previous=stacks[at - 1] if at else None,
        goes_on=at + 1 < len(stacks),
    )


def _angles(targets: Sequence[Target], found: dict[str, TargetResult]) -> Iterator[Instructions]:
    for target in targets:
        result = found.get(target.ref)
        if isinstance(target, AngleBlocksTarget) and isinstance(result, AngleBlocksResult):
            written = angle_instructions(target, result)
            if written is not None:
                yield written
