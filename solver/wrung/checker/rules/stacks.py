"""Stacks are what was asked for, of blocks on the shelf, as many and in the order that may be."""

from collections import Counter
from collections.abc import Iterator

from wrung.checker.case import Case, Found
from wrung.checker.contention import steps_fit
from wrung.targets.requirement import WEAR_COUNT


def refs(case: Case) -> Iterator[Found]:
    """Every target is answered once, by a stack or as unmet, in the order asked for."""
    served = [stack.name for stack in case.answer.stacks]
    unserved = [unmet.name for unmet in case.answer.unmet]
    # Stacks and unmet targets are lists apart, so each has an order of its own.
    for answered in (served, unserved):
        known = [name for name in dict.fromkeys(answered) if name in case.requirements]
        if known != [name for name in case.requirements if name in known]:
            yield None, "the targets do not stand in the order asked for"
    count = Counter(served + unserved)
    for name in sorted(count.keys() | case.requirements.keys(), key=str):
        if name not in case.requirements:
            yield name, "nobody asked for this target"
        elif count[name] != 1:
            yield name, f"it is answered {count[name]} times"


def objective(case: Case) -> Iterator[Found]:
    """The objective is the one asked for."""
    if case.answer.objective != case.objective:
        yield None, f"the objective asked for is {case.objective}, not {case.answer.objective}"


def lengths(case: Case) -> Iterator[Found]:
    """A stack repeats the length that was asked for."""
    for stack, wanted in case.stacks:
        if stack.length != wanted.length:
            yield stack.name, f"the length asked for is {wanted.length}, not {stack.length}"


def shelf(case: Case) -> Iterator[Found]:
    """Every block is on the shelf, may be used, and is described as it is."""
    for stack in case.answer.stacks:
        for placed in stack.blocks:
            block = case.blocks.get(placed.id)
            described = (placed.role, placed.unit, placed.body)
            if block is None or placed.id not in case.allowed:
                yield stack.name, f"the block {placed.id!r} may not be used"
            elif (
                placed.nominal not in case.nominals(block)
                or (block.role, block.unit, block.body) != described
            ):
                yield stack.name, f"the block {placed.id!r} is described wrongly"


def used_once(case: Case) -> Iterator[Found]:
    """A block stands once in a stack, and in no other stack that is needed at the same time."""
    for stack, wanted in case.stacks:
        busy = case.busy(wanted)
        for name, count in Counter(placed.id for placed in stack.blocks).items():
            if count > 1 or name in busy:
                yield stack.name, f"the block {name!r} is needed twice at one time"


def nominal_sums(case: Case) -> Iterator[Found]:
    """The nominal length of a stack is the sum of its blocks' nominal lengths."""
    for stack in case.answer.stacks:
        total = sum(block.nominal for block in case.really(stack))
        if stack.nominal != total:
            yield stack.name, f"the blocks add up to {total}, not {stack.nominal}"


def tolerances(case: Case) -> Iterator[Found]:
    """What the blocks add up to differs from the length by no more than the tolerance."""
    for stack, wanted in case.stacks:
        # By the shelf and the request; what the answer says of its sums is a rule of its own.
        off = sum(block.nominal for block in case.really(stack)) - wanted.length
        if not wanted.tolerance.lower <= off <= wanted.tolerance.upper:
            yield stack.name, f"the stack is {off} off the length, outside the tolerance"


def counts(case: Case) -> Iterator[Found]:
    """A stack has a block, no more than allowed, and one joint less than blocks."""
    for stack, wanted in case.stacks:
        count = len(stack.blocks)
        if count < 1 or (wanted.max_blocks is not None and count > wanted.max_blocks):
            yield stack.name, f"{count} blocks are not allowed"
        if stack.joints != count - 1:
            yield stack.name, f"{count} blocks do not have {stack.joints} joints"


def wear_blocks(case: Case) -> Iterator[Found]:
    """There are as many wear blocks as asked for, and they are wrung last, onto the outside."""
    for stack, wanted in case.stacks:
        roles = [block.role for block in case.really(stack)]
        if roles.count("wear") != WEAR_COUNT[wanted.wear_blocks]:
            yield stack.name, f"{roles.count('wear')} wear blocks are not {wanted.wear_blocks!r}"
        if "gauge" in roles[roles.count("gauge") :]:
            yield stack.name, "a wear block is not wrung last"


def steps(case: Case) -> Iterator[Found]:
    """One step of a step block at most; only a wear block, for the base, comes after it."""
    for stack, wanted in case.stacks:
        blocks = case.really(stack)
        if not steps_fit(blocks, wanted, WEAR_COUNT[wanted.wear_blocks]):
            yield stack.name, "a step block stands where none may, or a second one"
        gauge = [block.body for block in blocks if block.role == "gauge"]
        if any(body is not None for body in gauge[:-1]):
            yield stack.name, "a block stands on a step block"


def wringing_order(case: Case) -> Iterator[Found]:
    """The longest gauge block is the base, and none is wrung onto a thinner one.

    A step block goes on top, however long its step is.
    """
    for stack in case.answer.stacks:
        plain = [block for block in case.really(stack) if block.body is None]
        gauge = [block.nominal for block in plain if block.role == "gauge"]
        if gauge != sorted(gauge, reverse=True):
            yield stack.name, "a block stands on a thinner one"
