"""Errors of stacks, and what they come to."""

from collections.abc import Iterator

from wrung.checker.case import Case, Found
from wrung.checker.errors import worst_case_error


def deviations(case: Case) -> Iterator[Found]:
    """The deviation of a stack is the sum of the certified deviations."""
    for stack in case.answer.stacks:
        total = sum(block.deviation or 0 for block in case.really(stack))
        if stack.deviation != total:
            yield stack.name, f"the deviations add up to {total}, not {stack.deviation}"


def worst_case_errors(case: Case) -> Iterator[Found]:
    """|nominal + deviations - length| + margins + joints * joint allowance."""
    for stack, wanted in case.stacks:
        error = worst_case_error(case.really(stack), wanted.length, case.joint_allowance)
        if stack.worst_case_error != error:
            yield stack.name, f"the worst-case error is {error}, not {stack.worst_case_error}"


def totals(case: Case) -> Iterator[Found]:
    """The totals are those of the stacks."""
    # Worked out again even where another rule compares each: totals must not rest on the answer.
    errors = [
        worst_case_error(case.really(s), wanted.length, case.joint_allowance)
        for s, wanted in case.stacks
    ]
    blocks = sum(len(stack.blocks) for stack in case.answer.stacks)
    said = (case.answer.largest_worst_case_error, case.answer.total_worst_case_error)
    if (case.answer.total_blocks, *said) != (blocks, max(errors, default=0), sum(errors)):
        yield None, "the totals are not those of the stacks"


def compared(case: Case) -> Iterator[Found]:
    """What was compared is what was asked for, and its figures are those of the stacks."""
    asked, said = case.measure, case.answer.compared_errors
    if asked.usual:
        if said is not None:
            yield None, "nothing but the worst-case error was asked for"
        return
    figures = [case.error(case.really(stack), each) for stack, each in case.stacks]
    wanted = (asked.kind, asked.corrected, asked.unequal_limits)
    if said is None or (said.kind, said.corrected, said.unequal_limits) != wanted:
        yield None, "it does not compare what was asked for"
    elif (said.largest, said.total) != (max(figures, default=0), sum(figures)):
        yield None, "the figures compared are not those of the stacks"


def required_ratios(case: Case) -> Iterator[Found]:
    """A stack keeps the ratio required of it."""
    for stack, wanted in case.stacks:
        if not case.keeps_ratio(case.really(stack), wanted):
            ratio = float(case.ratios[stack.name].ratio)
            yield stack.name, f"its tolerance is not {ratio:.3g} times twice its error"
