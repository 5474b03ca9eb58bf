"""From targets to the plain lengths that are planned, with pointers for what is wrong with them."""

from collections.abc import Sequence

from msgspec import Struct

from wrung.answers import Answer, Stack
from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block, by_id
from wrung.checked_types import typed
from wrung.errors import Fault, InputError, require
from wrung.lengths import LONGEST
from wrung.metrology.conditions import STANDARD, Conditions
from wrung.names import repeats
from wrung.stack_names import StackName
from wrung.targets.angle_blocks import AngleBlocksTarget
from wrung.targets.base import StackTarget, TargetKind, TargetResult
from wrung.targets.built import budgeted
from wrung.targets.requirement import Requirement


class Placed(Struct, frozen=True, kw_only=True):
    """A stack to plan, and the pointer of the target that needs it."""

    pointer: str
    requirement: Requirement


@typed
def placed_requirements(targets: Sequence[TargetKind[TargetResult]]) -> tuple[Placed, ...]:
    """The stacks of all targets, in their order.

    Raises:
        InputError: what the targets find wrong with themselves, and refs used twice; pointers are
            into ``/targets``.
    """
    placed, faults = place(targets)
    require(*faults)
    return placed


def place(
    targets: Sequence[TargetKind[TargetResult]],
) -> tuple[tuple[Placed, ...], tuple[Fault, ...]]:
    """The stacks of the targets that make sense, and what is wrong with the others."""
    placed: list[Placed] = []
    faults: list[Fault] = []
    for index, target in enumerate(targets):
        at = f"/targets/{index}"
        try:
            placed.extend(Placed(pointer=at, requirement=r) for r in _within_reach(target))
        except InputError as error:
            faults.extend(error.under(at))
    for k in repeats(target.ref for target in targets):
        detail = f"the ref {targets[k].ref!r} is used twice"
        faults.append(Fault(pointer=f"/targets/{k}/ref", detail=detail))
    return tuple(placed), tuple(faults)


def _within_reach(target: TargetKind[TargetResult]) -> tuple[Requirement, ...]:
    """The stacks of a target; refused where one is longer than any length that is read."""
    wanted = target.requirements()
    # What is given is short enough, but what is worked out from it, at an angle of almost nothing,
    # need not even fit the integers of the searches.
    if any(each.length > LONGEST for each in wanted):
        detail = "needs a stack beyond the longest length of 10 m (393.7 in)"
        raise InputError.at("", detail)
    return wanted


def placed_angles(targets: Sequence[TargetKind[TargetResult]]) -> tuple[Placed, ...]:
    """What the targets want of angle blocks, whether or not it makes sense."""
    return tuple(
        Placed(pointer=f"/targets/{index}", requirement=target.angle_requirement())
        for index, target in enumerate(targets)
        if isinstance(target, AngleBlocksTarget)
    )


@typed
def results(
    targets: Sequence[TargetKind[TargetResult]],
    answer: Answer,
    blocks: Sequence[Block],
    *,
    conditions: Conditions = STANDARD,
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE,
) -> tuple[TargetResult, ...]:
    """What an answer comes to for each target, in the terms of its trade.

    Args:
        targets: the targets that were asked for.
        answer: what `wrung.solve` said to them.
        blocks: those that it was given.
        conditions: where, when and how the stacks are used; what a target says goes before.
        joint_allowance: as for `wrung.solve`.

    Raises:
        InputError: the conditions make no sense, or a material is not known.
    """
    listed = by_id(blocks)
    under = conditions_of(targets, conditions)
    stacks: list[Stack] = [
        budgeted(stack, listed, under[stack.name], joint_allowance)
        for stack in answer.stacks
        if stack.name in under
    ]
    # A target need not know whether its stacks are of lengths or of angles.
    plans = (answer, *(each.plan for each in answer.cases))
    stacks += [stack for plan in plans[1:] for stack in plan.stacks]
    unmet = [each for plan in plans for each in plan.unmet]
    return tuple(target.results(stacks, unmet) for target in targets)


def conditions_of(
    targets: Sequence[TargetKind[TargetResult]], conditions: Conditions
) -> dict[StackName, Conditions]:
    """By the name of each stack of lengths, the conditions of its use."""
    return {
        requirement.name: target.in_use(conditions)
        for target in targets
        if isinstance(target, StackTarget)
        for requirement in target.requirements()
    }
