"""Lengths: what was asked for, and what the blocks add up to."""

from collections.abc import Iterator

from wrung.checker.case import Breach, Case


def lengths(case: Case) -> Iterator[Breach]:
    """A stack repeats the length that was asked for."""
    for stack, wanted in case.stacks():
        if stack.length != wanted.length:
            detail = f"the length asked for is {wanted.length}, not {stack.length}"
            yield Breach(rule="lengths", name=stack.name, detail=detail)


def nominal_sums(case: Case) -> Iterator[Breach]:
    """The nominal length of a stack is the sum of its blocks' nominal lengths."""
    for stack in case.answer.stacks:
        total = sum(block.nominal for block in case.really(stack))
        if stack.nominal != total:
            detail = f"the blocks add up to {total}, not {stack.nominal}"
            yield Breach(rule="nominal sums", name=stack.name, detail=detail)


def tolerances(case: Case) -> Iterator[Breach]:
    """What the blocks add up to differs from the length by no more than the tolerance."""
    for stack, wanted in case.stacks():
        # By the shelf and the request; what the answer says of its sums is a rule of its own.
        off = sum(block.nominal for block in case.really(stack)) - wanted.length
        if not wanted.tolerance.lower <= off <= wanted.tolerance.upper:
            detail = f"the stack is {off} off the length, outside the tolerance"
            yield Breach(rule="tolerances", name=stack.name, detail=detail)
