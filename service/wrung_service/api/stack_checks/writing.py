"""From a checked stack to the wire, in the client's units and words."""

from collections.abc import Sequence

from wrung.answers import PlacedBlock
from wrung.blocks import Block
from wrung.lengths import SMALL_UNIT, SmallUnit, Unit, to_text
from wrung.metrology import Better, Reading
from wrung_service.api.metrology.budgets import write_budget
from wrung_service.api.metrology.decisions import write_decision
from wrung_service.api.metrology.overdue import write_overdue
from wrung_service.api.stack_checks.answer import BetterStack, ExpectedReading, StackCheckAnswer
from wrung_service.api.stack_checks.reading import StackCheckReading
from wrung_service.api.stacks.built import BlockInStack, write_block
from wrung_service.api.wire_lengths import LENGTH
from wrung_service.api.words import Words, degrees_of, said
from wrung_service.usecases.check_built_stack import CheckedStack


def write_check(
    checked: CheckedStack, reading: StackCheckReading, *, waited_ms: float = 0.0
) -> StackCheckAnswer:
    """The answer as it stands on the wire."""
    return _Writer(reading).write(checked, waited_ms)


class _Writer:
    """Writes one answer, in the units and words of one request."""

    def __init__(self, reading: StackCheckReading) -> None:
        self._reading = reading
        self._unit: Unit = reading.body.unit
        self._small: SmallUnit = SMALL_UNIT[self._unit]
        self._words = Words(
            unit=self._unit,
            language=reading.body.language,
            degrees=degrees_of(reading.body.temperature_unit),
        )

    def write(self, checked: CheckedStack, waited_ms: float) -> StackCheckAnswer:
        body, check, decision = self._reading.body, checked.check, checked.decision
        shown = write_budget(check.budget, self._words, table=body.budget == "table")
        return StackCheckAnswer(
            unit=self._unit,
            small_unit=self._small,
            temperature_unit=self._words.degrees,
            passed=check.passed,
            # Faults were refused, so there is text; `or` is for the type checker.
            length=LENGTH.text(body.length) or "",
            nominal=to_text(check.nominal, self._unit),
            nominal_error=to_text(check.nominal_error, self._unit),
            blocks=self._blocks(check.blocks),
            joints=check.joints,
            deviation=to_text(check.deviation, self._small),
            worst_case_error=to_text(check.worst_case_error, self._small),
            duplicate_blocks=check.duplicate_blocks,
            misplaced_wear_blocks=check.misplaced_wear_blocks,
            misplaced_steps=check.misplaced_steps,
            overdue_blocks=write_overdue(check.overdue_blocks),
            used_on=self._reading.query.conditions.used_on,
            remarks=tuple(
                said(each, self._words) for each in (*checked.stack_remarks, *checked.remarks)
            ),
            readings=tuple(self._expected(reading) for reading in check.readings),
            budget=None if body.budget == "none" else shown,
            decision=write_decision(decision, self._words) if decision else None,
            better_stacks=tuple(self._better(better) for better in checked.better),
            better_stacks_proven=checked.better_stacks_proven,
            waited_ms=round(waited_ms, 1),
        )

    def _expected(self, reading: Reading) -> ExpectedReading:
        return ExpectedReading(
            instrument=reading.instrument,
            reading=to_text(reading.reading, self._unit),
            lowest=to_text(reading.lowest, self._unit),
            highest=to_text(reading.highest, self._unit),
        )

    def _better(self, better: Better) -> BetterStack:
        stack = better.stack
        return BetterStack(
            improvements=better.improvements,
            blocks=self._blocks(stack.blocks),
            nominal=to_text(stack.nominal, self._unit),
            deviation=to_text(stack.deviation, self._small),
            worst_case_error=to_text(stack.worst_case_error, self._small),
        )

    def _blocks(self, blocks: Sequence[Block | PlacedBlock]) -> tuple[BlockInStack, ...]:
        shelf = self._reading.shelf
        return tuple(write_block(block, shelf, self._unit) for block in blocks)
