"""Checking a stack built by hand, and finding better ones."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.answers import Answer, Stack
from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block, margin, repeated_ids
from wrung.checked_types import typed
from wrung.errors import Fault, InputError, require
from wrung.metrology.budget.stack import Budget, stack_budget
from wrung.metrology.conditions import STANDARD, Conditions
from wrung.metrology.overdue import Overdue, overdue_blocks
from wrung.metrology.readings import Instrument, Reading, check_instruments, expected_reading
from wrung.names import or_nearest
from wrung.targets.requirement import WEAR_COUNT

Gain: TypeAlias = Literal["correct_length", "usable_blocks", "fewer_blocks", "smaller_error"]


class StackCheck(Struct, frozen=True, kw_only=True):
    """The check of a stack built by hand. Lengths are quanta of 0.01 nm.

    Attributes:
        target: the wanted length.
        blocks: its blocks, in the order given.
        nominal: sum of the nominal lengths.
        joints: blocks less one.
        deviation: sum of the certified deviations.
        nominal_error: nominal length less the target: other than 0, a wrong block was taken.
        worst_case_error: the planner's figure, see `wrung.answers.Stack`.
        budget: its uncertainty budget.
        readings: what instruments should show.
        duplicate_blocks: ids that are named more than once: there is only one such block.
        misplaced_wear_blocks: ids of wear blocks that do not stand at an end.
        misplaced_steps: ids of steps of step blocks that are between blocks, or are several.
        overdue_blocks: blocks that are overdue on the day of use.
    """

    target: int
    blocks: tuple[Block, ...]
    nominal: int
    joints: int
    deviation: int
    nominal_error: int
    worst_case_error: int
    budget: Budget
    readings: tuple[Reading, ...]
    duplicate_blocks: tuple[str, ...]
    misplaced_wear_blocks: tuple[str, ...]
    misplaced_steps: tuple[str, ...]
    overdue_blocks: tuple[Overdue, ...]

    @property
    def passed(self) -> bool:
        """Whether the stack has the wanted nominal length and nothing is wrong with its blocks."""
        return not (
            self.nominal_error
            or self.duplicate_blocks
            or self.misplaced_wear_blocks
            or self.misplaced_steps
            or self.overdue_blocks
        )


class Better(Struct, frozen=True, kw_only=True):
    """A stack that is better than the one built by hand, and how it is better."""

    stack: Stack
    improvements: tuple[Gain, ...]


@typed
def check_stack(  # noqa: PLR0913 - what there is to say of a stack
    shelf: Sequence[Block],
    ids: Sequence[str],
    target: int,
    *,
    conditions: Conditions = STANDARD,
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE,
    instruments: Sequence[Instrument] = (),
) -> StackCheck:
    """Check a stack of the named blocks.

    Args:
        shelf: the blocks there are.
        ids: the blocks of the stack, base first.
        target: the wanted length, quanta.
        conditions: where, when and how it is used; its day says which blocks are overdue.
        joint_allowance: what one joint adds to the worst case, quanta.
        instruments: what it is measured with to see that the right blocks were taken.

    Raises:
        InputError: with pointers into ``/stack``, ``/blocks`` and ``/instruments``: a block is not
            known, or has no usable statement of its error, or something else makes no sense.
    """
    blocks = _named(shelf, ids)
    check_instruments(instruments)
    budget = stack_budget(blocks, conditions, target=target, joint_allowance=joint_allowance)
    # Every row at its limit: a reading outside that points to a wrong block, not to bad luck.
    off = budget.corrected.all_inputs_at_limits
    return StackCheck(
        target=target,
        blocks=blocks,
        nominal=budget.nominal,
        joints=len(blocks) - 1,
        deviation=budget.deviation,
        nominal_error=budget.nominal - target,
        worst_case_error=budget.uncorrected.worst_case,
        budget=budget,
        readings=tuple(expected_reading(budget.length, off, each) for each in instruments),
        duplicate_blocks=tuple(name for name, times in Counter(ids).items() if times > 1),
        misplaced_wear_blocks=_misplaced(blocks),
        misplaced_steps=_misplaced_steps(blocks),
        overdue_blocks=overdue_blocks(blocks, conditions.used_on) if conditions.used_on else (),
    )


def _misplaced(blocks: Sequence[Block]) -> tuple[str, ...]:
    """Wear blocks that stand inside: only at an end does one spare the others."""
    # In wringing order both come last, and the last of all is wrung onto the base's free face.
    both_last = [block.role for block in blocks[-2:]] == ["wear", "wear"]
    last = -2 if both_last and blocks[0].role == "gauge" else -1
    return tuple(block.id for block in blocks[1:last] if block.role == "wear")


def _misplaced_steps(blocks: Sequence[Block]) -> tuple[str, ...]:
    """Steps on which something stands: higher steps are in its way. A stack has one at most."""
    steps = tuple(block.id for block in blocks if block.body is not None)
    wear = [block.role for block in blocks].count("wear")
    # In wringing order a wear block may come after it, and goes onto the base.
    plain = [block for block in blocks if block.role == "gauge"]
    ends = plain[-1:] if blocks[0].role == "wear" else (*plain[:1], *plain[-1:])
    at_an_end = wear < WEAR_COUNT["both"] and any(block.body is not None for block in ends)
    return steps if len(steps) > 1 or not at_an_end else ()


@typed
def better_stacks(check: StackCheck, answers: Sequence[Answer]) -> tuple[Better, ...]:
    """Those stacks of the answers that are better than the one built by hand, each once.

    Args:
        check: the stack built by hand.
        answers: of `wrung.solve` for its target alone, whatever the objectives.
    """
    found: dict[frozenset[str], Better] = {}
    for stack in (stack for answer in answers for stack in answer.stacks):
        gains = tuple(_gains(check, stack))
        if gains:
            # The order of its blocks makes no other stack.
            found[frozenset(block.id for block in stack.blocks)] = Better(
                stack=stack, improvements=gains
            )
    return tuple(found.values())


def _gains(check: StackCheck, stack: Stack) -> Iterator[Gain]:
    """How a stack is better. Fewer blocks with more error, or the reverse, is up to the user."""
    if check.nominal_error:
        yield "correct_length"
    misplaced = (*check.misplaced_wear_blocks, *check.misplaced_steps)
    if check.duplicate_blocks or misplaced or check.overdue_blocks:
        yield "usable_blocks"
    if len(stack.blocks) < len(check.blocks):
        yield "fewer_blocks"
    if stack.worst_case_error < check.worst_case_error:
        yield "smaller_error"


def _named(shelf: Sequence[Block], ids: Sequence[str]) -> tuple[Block, ...]:
    if not ids:
        raise InputError.at("/stack", "names no block")
    known = {block.id: block for block in shelf}
    require(*repeated_ids(shelf), *_unusable(known, ids))
    return tuple(known[name] for name in ids)


def _unusable(known: dict[str, Block], ids: Sequence[str]) -> Iterator[Fault]:
    for index, name in enumerate(ids):
        if name not in known:
            detail = f"no block has the id {name!r}{or_nearest(name, known)}"
            yield Fault(pointer=f"/stack/{index}", detail=detail)
            continue
        try:
            # For its fault alone: only blocks of the stack must have a usable statement.
            margin(known[name])
        except InputError as error:
            yield from error.all_at(f"/stack/{index}").faults
