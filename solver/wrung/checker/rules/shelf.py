"""Stacks are of blocks on the shelf, each used once at a time."""

from collections import Counter
from collections.abc import Iterator

from wrung.checker.case import Breach, Case


def shelf(case: Case) -> Iterator[Breach]:
    """Every block is on the shelf, may be used, and is described as it is."""
    for stack in case.answer.stacks:
        for placed in stack.blocks:
            block = case.blocks.get(placed.id)
            if block is None or placed.id not in case.allowed:
                detail = f"the block {placed.id!r} may not be used"
                yield Breach(rule="shelf", name=stack.name, detail=detail)
            elif placed.nominal not in case.nominals(block) or (
                placed.role,
                placed.unit,
                placed.body,
            ) != (
                block.role,
                block.unit,
                block.body,
            ):
                detail = f"the block {placed.id!r} is described wrongly"
                yield Breach(rule="shelf", name=stack.name, detail=detail)


def used_once(case: Case) -> Iterator[Breach]:
    """A block stands once in a stack, and in no other stack that is needed at the same time."""
    for stack, wanted in case.stacks():
        busy = case.busy(wanted)
        for name, count in Counter(placed.id for placed in stack.blocks).items():
            if count > 1 or name in busy:
                detail = f"the block {name!r} is needed twice at one time"
                yield Breach(rule="used once", name=stack.name, detail=detail)
