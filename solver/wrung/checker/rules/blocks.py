"""How many blocks a stack has, which, and in what order."""

from collections.abc import Iterator

from wrung.checker.case import Breach, Case
from wrung.checker.changes import changes_fault
from wrung.checker.steps import steps_fit
from wrung.targets.requirement import WEAR_COUNT


def counts(case: Case) -> Iterator[Breach]:
    """A stack has a block, no more than allowed, and one joint less than blocks."""
    for stack, wanted in case.stacks():
        count = len(stack.blocks)
        if count < 1 or (wanted.max_blocks is not None and count > wanted.max_blocks):
            detail = f"{count} blocks are not allowed"
            yield Breach(rule="counts", name=stack.name, detail=detail)
        if stack.joints != count - 1:
            detail = f"{count} blocks do not have {stack.joints} joints"
            yield Breach(rule="counts", name=stack.name, detail=detail)


def wear_blocks(case: Case) -> Iterator[Breach]:
    """There are as many wear blocks as asked for, and they are wrung last, onto the outside."""
    for stack, wanted in case.stacks():
        roles = [block.role for block in case.really(stack)]
        if roles.count("wear") != WEAR_COUNT[wanted.wear_blocks]:
            detail = f"{roles.count('wear')} wear blocks are not {wanted.wear_blocks!r}"
            yield Breach(rule="wear blocks", name=stack.name, detail=detail)
        if "gauge" in roles[roles.count("gauge") :]:
            detail = "a wear block is not wrung last"
            yield Breach(rule="wear blocks", name=stack.name, detail=detail)


def steps(case: Case) -> Iterator[Breach]:
    """One step of a step block at most; only a wear block, for the base, comes after it."""
    for stack, wanted in case.stacks():
        blocks = case.really(stack)
        if not steps_fit(blocks, wanted, WEAR_COUNT[wanted.wear_blocks]):
            detail = "a step block stands where none may, or a second one"
            yield Breach(rule="steps", name=stack.name, detail=detail)
        gauge = [block.body for block in blocks if block.role == "gauge"]
        if any(body is not None for body in gauge[:-1]):
            yield Breach(rule="steps", name=stack.name, detail="a block stands on a step block")


def wringing_order(case: Case) -> Iterator[Breach]:
    """The longest gauge block is the base, and none is wrung onto a thinner one.

    A step block goes on top, however long its step is.
    """
    for stack in case.answer.stacks:
        plain = [block for block in case.really(stack) if block.body is None]
        gauge = [block.nominal for block in plain if block.role == "gauge"]
        if gauge != sorted(gauge, reverse=True):
            detail = "a block stands on a thinner one"
            yield Breach(rule="wringing order", name=stack.name, detail=detail)


def changes(case: Case) -> Iterator[Breach]:
    """As many blocks change as is said, where stacks follow one another."""
    fault = changes_fault(case.answer, case.requirements, case.blocks)
    if fault is not None:
        yield Breach(rule="changes", detail=fault)
