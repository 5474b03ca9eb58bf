"""Plans and stack checks as a person reads them at the bench."""

from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import UnsetType

from wrung.answers import Outcome
from wrung.metrology.stack_check import Gain
from wrung.rounding import read_text
from wrung.texts import role_in_words
from wrung_service.api.stack_checks.answer import StackCheckAnswer
from wrung_service.api.stacks.answer import StackAnswer, StackHandwork
from wrung_service.api.stacks.built import BlockInStack, BuiltStack, StackOfTarget
from wrung_service.api.stacks.unmet import BlockToAdd, UnmetStack
from wrung_service.api.words import texts_of
from wrung_service.commands.language import Spoken
from wrung_service.commands.printed_results import note_lines, result_lines

_OUTCOMES: Final[dict[Outcome, str]] = {
    "optimal": "printed.optimal",
    "feasible": "printed.feasible",
    "partial": "printed.partial",
    "infeasible": "printed.infeasible",
    "unknown": "printed.unknown",
}


_GAINS: Final[dict[Gain, str]] = {
    "correct_length": "printed.correct_length",
    "usable_blocks": "printed.usable_blocks",
    "fewer_blocks": "printed.fewer_blocks",
    "smaller_error": "printed.smaller_error",
}


def plan_lines(answer: StackAnswer, spoken: Spoken) -> Iterator[str]:
    """The stacks of a plan, what to do if it was asked for, results, and what is missing."""
    handwork = answer.handwork or ()
    for stack in answer.stacks:
        yield from _stack(stack, spoken)
        yield from note_lines(texts_of(stack.remarks), spoken, "  ")
        yield from _steps(each for each in handwork if _name(each, spoken) == _name(stack, spoken))
        yield ""
    yield from result_lines(answer, spoken)
    for unmet in answer.unmet:
        yield from _unmet(unmet, spoken)
        yield ""
    if answer.shortage is not None:
        yield from (scarce.detail for scarce in answer.shortage.scarce_blocks)
    if answer.shortage is not None and answer.shortage.blocks_to_add:
        blocks = _wanted(answer.shortage.blocks_to_add, spoken)
        left = ", ".join(_name(each, spoken) for each in answer.shortage.not_helped or ())
        said = "printed.others_built" if left else "printed.all_built"
        yield spoken.say(said, blocks=blocks, left=left)
    for block in answer.overdue_blocks or ():
        yield spoken.say("printed.left_out", day=str(block.due_on), block=block.id)
    yield from note_lines(texts_of(answer.remarks), spoken)
    yield _summary(answer, spoken)


def check_lines(answer: StackCheckAnswer, spoken: Spoken) -> Iterator[str]:
    """What a stack built by hand comes to, what is wrong with it, and better ones."""
    say = spoken.say
    passed = "printed.passed" if answer.passed else "printed.failed"
    yield say(passed, length=spoken.length(answer.length))
    yield from _column(answer.blocks, read_text(answer.nominal, answer.unit), spoken)
    yield _errors(answer.deviation, answer.worst_case_error, spoken)
    if answer.nominal_error != "0":
        yield "  " + say("printed.wrong_block", off=spoken.length(answer.nominal_error))
    for key, blocks in (
        ("printed.duplicates", answer.duplicate_blocks),
        ("printed.misplaced", answer.misplaced_wear_blocks),
        ("printed.misplaced_steps", answer.misplaced_steps),
        ("printed.overdue", [block.id for block in answer.overdue_blocks]),
    ):
        if blocks:
            yield "  " + say(key, blocks=", ".join(blocks))
    for each in answer.readings:
        ends = {"lowest": spoken.number(each.lowest), "highest": spoken.number(each.highest)}
        yield "  " + say("printed.should_read", instrument=each.instrument, **ends)
    yield from note_lines(texts_of(answer.remarks), spoken, "  ")
    for better in answer.better_stacks:
        gains = ", ".join(say(_GAINS[gain]) for gain in better.improvements)
        made_of = " + ".join(_named(block, spoken) for block in better.blocks)
        error = spoken.error(better.worst_case_error)
        yield say("printed.better", gains=gains, blocks=made_of, error=error)


def _stack(stack: BuiltStack, spoken: Spoken) -> Iterator[str]:
    yield f"{_name(stack, spoken)}: {spoken.length(stack.length)}"
    yield from _column(stack.blocks, read_text(stack.nominal, spoken.unit), spoken)
    yield _errors(stack.deviation, stack.worst_case_error, spoken)


def _name(stack: StackOfTarget | BuiltStack | StackHandwork | UnmetStack, spoken: Spoken) -> str:
    """The target, and which of its stacks where it has several."""
    role = role_in_words(stack.role, spoken.language) if stack.role else None
    return ", ".join(filter(None, (stack.target, role)))


def _errors(deviation: str, worst_case: str, spoken: Spoken) -> str:
    known, error = spoken.deviation(deviation), spoken.error(worst_case)
    return "  " + spoken.say("printed.errors", deviation=known, error=error)


def _column(blocks: Sequence[BlockInStack], total: str, spoken: Spoken) -> Iterator[str]:
    """The blocks from the base up, points under one another, and their sum."""
    numbers = [block.nominal for block in blocks] + [total]
    before = max(len(number.partition(".")[0]) for number in numbers)
    width = max(before - len(n.partition(".")[0]) + len(n) for n in numbers)
    rows = [" " * (before - len(n.partition(".")[0])) + spoken.number(n) for n in numbers]
    for row, block in zip(rows, blocks, strict=False):
        yield f"  {row:{width}}  {_named(block, spoken)}"
    yield f"  {'-' * width}"
    yield f"  {rows[-1]}"


def _named(block: BlockInStack, spoken: Spoken) -> str:
    more: list[str] = []
    if not isinstance(block.unit, UnsetType):
        more.append(block.unit)
    if not isinstance(block.serial, UnsetType):
        more.append(spoken.say("printed.serial", serial=block.serial))
    if not isinstance(block.body, UnsetType):
        more.append(spoken.say("printed.step", body=block.body))
    if block.role == "wear":
        more.append(spoken.say("printed.wear_block"))
    return ", ".join((block.id, *more))


def _steps(instructions: Iterator[StackHandwork]) -> Iterator[str]:
    for each in instructions:
        yield from (f"  ! {caution.text}" for caution in each.cautions)
        yield from (f"  {number}. {step.text}" for number, step in enumerate(each.steps, 1))


def _unmet(unmet: UnmetStack, spoken: Spoken) -> Iterator[str]:
    yield spoken.say("printed.no_stack", name=_name(unmet, spoken), detail=unmet.detail)
    for key, found in (
        ("printed.nearest_below", unmet.nearest_below),
        ("printed.nearest_above", unmet.nearest_above),
    ):
        if found is not None:
            length = spoken.length(found.length)
            yield f"  {spoken.say(key, length=length, blocks=' + '.join(found.blocks))}"


def _wanted(blocks: Sequence[BlockToAdd], spoken: Spoken) -> str:
    roles = {
        "gauge": spoken.say("printed.gauge_block"), "wear": spoken.say("printed.wear_block")
    }  # fmt: skip
    return ", ".join(
        f"{spoken.number(each.nominal)} {each.unit} ({roles[each.role]})" for each in blocks
    )


def _summary(answer: StackAnswer, spoken: Spoken) -> str:
    stacks, count = len(answer.stacks), answer.total_blocks
    blocks = spoken.say("printed.one_block" if count == 1 else "printed.blocks", count=count)
    if stacks == 1:
        built = spoken.say("printed.one_stack", blocks=blocks)
    else:
        built = spoken.say("printed.stacks", count=stacks, blocks=blocks)
    best = spoken.say("printed.proven" if answer.objective_proven else "printed.not_proven")
    outcome = spoken.say(_OUTCOMES[answer.outcome])
    return f"{outcome}: {built}{f', {best}' if stacks else ''}."
