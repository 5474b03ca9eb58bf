"""Plans and stack checks as a person reads them at the bench."""

from collections.abc import Iterator, Sequence

from msgspec import UnsetType

from wrung.lengths import SmallUnit, Unit
from wrung.rounding import at_most, read_text
from wrung.texts import SIGNS
from wrung_service.api.stack_checks.answer import StackCheckAnswer
from wrung_service.api.stacks.answer import StackAnswer, StackHandwork
from wrung_service.api.stacks.built import BlockInStack, BuiltStack
from wrung_service.api.stacks.unmet import BlockToAdd, NearestLength, UnmetStack


def plan_lines(answer: StackAnswer) -> Iterator[str]:
    """The stacks of a plan, what to do at the bench if it was asked for, and what is missing."""
    handwork = () if isinstance(answer.handwork, UnsetType) else answer.handwork
    for stack in answer.stacks:
        yield from _stack(stack, answer)
        yield from _steps(each for each in handwork if _name(each) == _name(stack))
        yield ""
    for unmet in answer.unmet:
        yield from _unmet(unmet, answer.unit)
        yield ""
    if answer.shortage is not None:
        yield from (scarce.detail for scarce in answer.shortage.scarce_blocks)
    if answer.shortage is not None and answer.shortage.blocks_to_add:
        yield f"With these all could be built: {_wanted(answer.shortage.blocks_to_add)}"
    if not isinstance(answer.overdue_blocks, UnsetType):
        for block in answer.overdue_blocks:
            yield f"Left out, due for calibration on {block.due_on}: {block.id}"
    yield _summary(answer)


def check_lines(answer: StackCheckAnswer) -> Iterator[str]:
    """What a stack built by hand comes to, what is wrong with it, and better ones."""
    sign, wanted = SIGNS[answer.small_unit], read_text(answer.length, answer.unit)
    yield f"{'Passed' if answer.passed else 'FAILED'}: wanted {wanted} {answer.unit}"
    yield from _column(answer.blocks, read_text(answer.nominal, answer.unit))
    yield _errors(answer.deviation, answer.worst_case_error, answer.small_unit)
    if answer.nominal_error != "0":
        off = read_text(answer.nominal_error, answer.unit)
        yield f"  The nominal lengths are {off} {answer.unit} off: a wrong block."
    for said, blocks in (
        ("Named more than once", answer.duplicate_blocks),
        ("Wear blocks that are not at an end", answer.misplaced_wear_blocks),
        ("Overdue for calibration", [block.id for block in answer.overdue_blocks]),
    ):
        if blocks:
            yield f"  {said}: {', '.join(blocks)}"
    for reading in answer.readings:
        yield f"  {reading.instrument} should read {reading.lowest} to {reading.highest}"
    for better in answer.better_stacks:
        gains = ", ".join(gain.replace("_", " ") for gain in better.improvements)
        error = f"worst-case error {at_most(better.worst_case_error)} {sign}"
        yield f"Better ({gains}): {_sum(better.blocks)}, {error}"


def _stack(stack: BuiltStack, answer: StackAnswer) -> Iterator[str]:
    yield f"{_name(stack)}: {read_text(stack.length, answer.unit)} {answer.unit}"
    yield from _column(stack.blocks, read_text(stack.nominal, answer.unit))
    yield _errors(stack.deviation, stack.worst_case_error, answer.small_unit)


def _name(stack: BuiltStack | StackHandwork | UnmetStack) -> str:
    """The target, and which of its stacks where it has several."""
    return stack.target + (f", {stack.role.replace('_', ' ')}" if stack.role else "")


def _errors(deviation: str, worst_case: str, unit: SmallUnit) -> str:
    sign, known = SIGNS[unit], read_text(deviation, unit, "result")
    return f"  deviation {known} {sign}, worst-case error {at_most(worst_case)} {sign}"


def _column(blocks: Sequence[BlockInStack], total: str) -> Iterator[str]:
    """The blocks from the base up, points under one another, and their sum."""
    numbers = [block.nominal for block in blocks] + [total]
    before = max(len(number.partition(".")[0]) for number in numbers)
    width = max(before - len(n.partition(".")[0]) + len(n) for n in numbers)
    rows = [" " * (before - len(n.partition(".")[0])) + n for n in numbers]
    for row, block in zip(rows, blocks, strict=False):
        yield f"  {row:{width}}  {_named(block)}"
    yield f"  {'-' * width}"
    yield f"  {rows[-1]}"


def _named(block: BlockInStack) -> str:
    unit = "" if isinstance(block.unit, UnsetType) else f", {block.unit}"
    serial = "" if isinstance(block.serial, UnsetType) else f", no. {block.serial}"
    return f"{block.id}{unit}{serial}{', wear block' if block.role == 'wear' else ''}"


def _steps(instructions: Iterator[StackHandwork]) -> Iterator[str]:
    for each in instructions:
        yield from (f"  ! {caution.text}" for caution in each.cautions)
        yield from (f"  {number}. {step.text}" for number, step in enumerate(each.steps, 1))


def _unmet(unmet: UnmetStack, unit: Unit) -> Iterator[str]:
    yield f"{_name(unmet)}: NO STACK. {unmet.detail}"
    for side, found in (("below", unmet.nearest_below), ("above", unmet.nearest_above)):
        if found is not None:
            yield f"  nearest {side}: {_nearest(found, unit)}"


def _nearest(nearest: NearestLength, unit: Unit) -> str:
    return f"{read_text(nearest.length, unit)} {unit} of {' + '.join(nearest.blocks)}"


def _sum(blocks: Sequence[BlockInStack]) -> str:
    return " + ".join(_named(block) for block in blocks)


def _wanted(blocks: Sequence[BlockToAdd]) -> str:
    return ", ".join(f"{each.nominal} {each.unit} ({each.role} block)" for each in blocks)


def _summary(answer: StackAnswer) -> str:
    stacks = len(answer.stacks)
    best = "proven best" if answer.objective_proven else "not proven best, the time ran out"
    built = f"{stacks} stack{'' if stacks == 1 else 's'}, {answer.total_blocks} blocks in all"
    return f"{answer.outcome.capitalize()}: {built}{f', {best}' if stacks else ''}."
