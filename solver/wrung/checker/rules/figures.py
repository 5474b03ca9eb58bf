"""Errors of stacks, and what they come to."""

from collections.abc import Iterator

from wrung.checker.case import Breach, Case
from wrung.checker.errors import (
    factor_of,
    keeps_ratio,
    totals_of,
    worst_case_error,
)


def deviations(case: Case) -> Iterator[Breach]:
    """The deviation of a stack is the sum of the certified deviations."""
    for stack in case.answer.stacks:
        total = sum(block.deviation or 0 for block in case.really(stack))
        if stack.deviation != total:
            detail = f"the deviations add up to {total}, not {stack.deviation}"
            yield Breach(rule="deviations", name=stack.name, detail=detail)


def worst_case_errors(case: Case) -> Iterator[Breach]:
    """|nominal + deviations - length| + margins + joints * joint allowance."""
    for stack, wanted in case.stacks():
        error = worst_case_error(case.really(stack), wanted.length, case.joint_allowance)
        if stack.worst_case_error != error:
            detail = f"the worst-case error is {error}, not {stack.worst_case_error}"
            yield Breach(rule="worst-case errors", name=stack.name, detail=detail)


def totals(case: Case) -> Iterator[Breach]:
    """The totals are those of the stacks."""
    # Worked out again even where another rule compares each: totals must not rest on the answer.
    errors = [
        worst_case_error(case.really(s), wanted.length, case.joint_allowance)
        for s, wanted in case.stacks()
    ]
    blocks = sum(len(stack.blocks) for stack in case.answer.stacks)
    if totals_of(case.answer) != (blocks, max(errors, default=0), sum(errors)):
        yield Breach(rule="totals", detail="the totals are not those of the stacks")


def compared(case: Case) -> Iterator[Breach]:
    """What was compared is what was asked for, and its figures are those of the stacks."""
    asked, said = case.measure, case.answer.compared_errors
    if asked.usual:
        if said is not None:
            yield Breach(rule="compared", detail="nothing but the worst-case error was asked for")
        return
    figures = [case.error(stack, wanted) for stack, wanted in case.stacks()]
    if said is None or (said.kind, said.corrected, said.unequal_limits) != (
        asked.kind,
        asked.corrected,
        asked.unequal_limits,
    ):
        yield Breach(rule="compared", detail="it does not compare what was asked for")
    elif (said.largest, said.total) != (max(figures, default=0), sum(figures)):
        yield Breach(rule="compared", detail="the figures compared are not those of the stacks")


def required_ratios(case: Case) -> Iterator[Breach]:
    """A stack keeps the ratio required of it."""
    if not case.ratios:
        return
    # Once for all, as it takes the rows of the whole shelf.
    factor = factor_of([case.blocks[name] for name in sorted(case.allowed)], case.measure)
    for stack, wanted in case.stacks():
        required, error = case.ratios.get(stack.name), case.error(stack, wanted)
        if required and not keeps_ratio(error, required, case.measure, factor):
            detail = f"its tolerance is not {float(required.ratio):.3g} times twice its error"
            yield Breach(rule="required ratios", name=stack.name, detail=detail)
