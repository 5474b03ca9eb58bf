"""From the library's answer to the wire, in the client's units and words."""

from collections.abc import Iterable
from typing import Final

from msgspec import UNSET
from msgspec.structs import replace

from wrung.answers import (
    Answer,
    BlockChanges,
    Nearest,
    Remedy,
    Shortage,
    Stack,
    Unmet,
    Wanted,
)
from wrung.compositions import compositions_with
from wrung.handwork.instructions import Instructions
from wrung.handwork.step import Step
from wrung.lengths import QUANTA, SMALL_UNIT, SmallUnit, Unit, to_text
from wrung.stack_names import StackName
from wrung.targets import served, served_at_most
from wrung.texts import Phrase
from wrung_service.api.crib.taken import write_taken
from wrung_service.api.kinds.found import write_result
from wrung_service.api.metrology.budgets import write_budget
from wrung_service.api.metrology.measures import write_compared
from wrung_service.api.metrology.overdue import write_overdue
from wrung_service.api.stacks.angle_cases import ANGLE_REASONS, write_case
from wrung_service.api.stacks.answer import (
    ChangesOfBlocks,
    HandworkStep,
    ProvenBounds,
    SearchDiagnostics,
    StackAnswer,
    StackHandwork,
)
from wrung_service.api.stacks.built import (
    BuiltStack,
    name_stack,
    write_block,
    write_decision_on,
    write_served,
)
from wrung_service.api.stacks.choices_writing import ChoicesWriter
from wrung_service.api.stacks.preferences import write_preferences
from wrung_service.api.stacks.priorities import write_priorities
from wrung_service.api.stacks.reading import StackReading, budget_detail
from wrung_service.api.stacks.request import WantedLength
from wrung_service.api.stacks.scarcity import write_scarce
from wrung_service.api.stacks.targets import stack_names
from wrung_service.api.stacks.unmet import (
    BlockToAdd,
    NearestLength,
    ShortageReport,
    UnmetRemedy,
    UnmetStack,
)
from wrung_service.api.stacks.unmet_reasons import UnmetReasons
from wrung_service.api.wire_lengths import LENGTH
from wrung_service.api.words import Said, Words, degrees_of, said
from wrung_service.usecases.judge_stacks import JudgedStack
from wrung_service.usecases.solve_stacks import SolvedStacks

_GRAIN: Final[dict[SmallUnit, int]] = {"um": QUANTA["um"] // 10_000, "uin": QUANTA["uin"] // 10}
"""A tenth of a nanometre or of a microinch, quanta."""


def write_answer(
    solved: SolvedStacks, reading: StackReading, *, waited_ms: float = 0.0
) -> StackAnswer:
    """The answer as it stands on the wire."""
    return _Writer(reading, solved).write(waited_ms)


def unmet_in_words(
    solved: SolvedStacks, reading: StackReading, language: str
) -> tuple[UnmetStack, ...]:
    """The unmet stacks of the answer, in the order that it has them, in another language."""
    spoken = replace(reading, body=replace(reading.body, language=language))
    return _Writer(spoken, solved).all_unmet(solved.answer)


class _Writer:
    """Writes one answer, in the units and words of one request."""

    def __init__(self, reading: StackReading, solved: SolvedStacks) -> None:
        self._solved = solved
        self._unit: Unit = reading.body.unit
        self._small: SmallUnit = SMALL_UNIT[self._unit]
        self._query = reading.query
        self._table = budget_detail(reading.body) == "table"
        self._shelf = reading.shelf
        self._words = Words(
            unit=self._unit,
            language=reading.body.language,
            degrees=degrees_of(reading.body.temperature_unit),
        )
        self._reasons = UnmetReasons(self._query, solved.withheld)
        self._lengths = {
            target.ref: LENGTH.text(target.length)
            for target in reading.body.targets
            if isinstance(target, WantedLength)
        }

    def write(self, waited_ms: float) -> StackAnswer:
        solved = self._solved
        answer, day = solved.answer, self._query.conditions.used_on
        stacks = zip(answer.stacks, solved.judged, strict=True)
        choices = ChoicesWriter(self._unit, self._query.targets, self._stack)
        return StackAnswer(
            unit=self._unit,
            small_unit=self._small,
            temperature_unit=self._words.degrees,
            outcome=answer.outcome,
            proven=answer.proven,
            objective_proven=answer.objective_proven,
            objective=answer.objective,
            served=write_served(served(self._query.targets, answer)),
            total_blocks=answer.total_blocks,
            largest_worst_case_error=self._error(answer.largest_worst_case_error),
            total_worst_case_error=self._error(answer.total_worst_case_error),
            bounds=self._bounds(answer),
            stacks=tuple(self._stack(stack, judged) for stack, judged in stacks),
            results=tuple(write_result(result, self._words) for result in solved.results) or UNSET,
            angle_cases=tuple(write_case(each, self._query.targets) for each in answer.cases)
            or UNSET,
            handwork=self._handwork(solved.instructions) if self._query.handwork else UNSET,
            alternatives=choices.alternatives(solved.choices.alternatives),
            trade_off=choices.trade_off(solved.choices.trade_off),
            remarks=tuple(map(self._said, solved.remarks)) or UNSET,
            unmet=self.all_unmet(answer),
            shortage=self._shortage(answer.shortage, len(answer.stacks))
            if answer.shortage
            else None,
            compared_errors=write_compared(answer.compared_errors, self._unit)
            if answer.compared_errors
            else UNSET,
            changes=_changes(answer.changes) if answer.changes else UNSET,
            preferences=write_preferences(answer.preferences),
            used_on=UNSET if day is None else day,
            overdue_blocks=UNSET if day is None else write_overdue(self._query.left_out),
            solve_ms=round(answer.solve_ms, 1),
            waited_ms=round(waited_ms, 1),
            diagnostics=SearchDiagnostics(engine=answer.diagnostics.engine),
        )

    def _bounds(self, answer: Answer) -> ProvenBounds:
        bounds = answer.bounds
        largest, total = bounds.largest_worst_case_error, bounds.total_worst_case_error
        return ProvenBounds(
            served=write_served(served_at_most(self._query.targets, answer)),
            total_blocks=bounds.total_blocks,
            largest_worst_case_error=None if largest is None else self._error(largest),
            total_worst_case_error=None if total is None else self._error(total),
            by_priority=write_priorities(
                (each for target in self._query.targets for each in target.requirements()), answer
            ),
        )

    def _stack(self, stack: Stack, judged: JudgedStack) -> BuiltStack:
        budget, decision = judged.budget, judged.decision
        return BuiltStack(
            target=stack.target,
            role=stack.role,
            # A plain length goes back as it was written, so that clients can find it by its text.
            length=self._lengths.get(stack.target) or self._length(stack.length),
            nominal=self._length(stack.nominal),
            joints=stack.joints,
            blocks=tuple(write_block(block, self._shelf, self._unit) for block in stack.blocks),
            deviation=self._error(stack.deviation),
            worst_case_error=self._error(stack.worst_case_error),
            remarks=tuple(map(self._said, judged.remarks)) or UNSET,
            budget=write_budget(budget, self._words, table=self._table) if budget else UNSET,
            decision=write_decision_on(stack.name, decision, self._words) if decision else UNSET,
        )

    def _handwork(self, instructions: Iterable[Instructions]) -> tuple[StackHandwork, ...]:
        return tuple(
            StackHandwork(
                target=each.target,
                role=each.role,
                cautions=tuple(self._said(caution) for caution in each.cautions),
                steps=tuple(self._step(step) for step in each.steps),
                waiting_minutes=each.waiting_minutes,
            )
            for each in instructions
        )

    def _step(self, step: Step) -> HandworkStep:
        words = self._said(step.said)
        return HandworkStep(
            phase=step.phase,
            key=words.key,
            text=words.text,
            blocks=step.blocks,
            minutes=step.minutes or UNSET,
        )

    def _said(self, phrase: Phrase) -> Said:
        return said(phrase, self._words)

    def _unmet(self, unmet: Unmet, why: Phrase) -> UnmetStack:
        remedies = tuple(self._remedy(unmet, each) for each in unmet.remedies)
        below, above = unmet.nearest_below, unmet.nearest_above
        held = self._reasons.ranked and bool(unmet.held_by)
        return UnmetStack(
            target=unmet.target,
            role=unmet.role,
            reason=unmet.reason,
            detail=" ".join(
                (
                    *map(self._words.say, (why, *self._reasons.holders(unmet))),
                    *(each.detail for each in remedies),
                    *map(self._words.say, self._reasons.taken_in_words(unmet)),
                )
            ),
            remedies=remedies,
            nearest_below=self._nearest(below) if below else None,
            nearest_above=self._nearest(above) if above else None,
            rounded_to=UNSET if unmet.rounded_to is None else self._length(unmet.rounded_to),
            taken=tuple(map(write_taken, self._reasons.taken(unmet))) or UNSET,
            held_by=unmet.held_by if held else UNSET,
            held_by_priority=unmet.held_by_priority if held else UNSET,
        )

    def all_unmet(self, answer: Answer) -> tuple[UnmetStack, ...]:
        """Those of lengths and of angle blocks, in the order of the targets."""
        # Targets of angle blocks need no stack of lengths, so their own name takes its place.
        names = (
            stack_names([target]) or (StackName(target=target.ref),)
            for target in self._query.targets
        )
        order = [name for each in names for name in each]
        unmet = [(each.name, self._unmet(each, self._reasons.why(each))) for each in answer.unmet]
        angles = (each for case in answer.cases for each in case.plan.unmet)
        unmet += [(each.name, self._unmet_angle(each)) for each in angles]
        return tuple(one for _, one in sorted(unmet, key=lambda each: order.index(each[0])))

    def _unmet_angle(self, unmet: Unmet) -> UnmetStack:
        """Its nearest angles are no lengths; they are in the results."""
        plain = replace(unmet, nearest_below=None, nearest_above=None)
        return self._unmet(plain, ANGLE_REASONS[unmet.reason])

    def _remedy(self, unmet: Unmet, remedy: Remedy) -> UnmetRemedy:
        detail = self._words.say(self._reasons.remedy(unmet, remedy))
        return UnmetRemedy(lifted=remedy.lifted, detail=detail, blocks=remedy.blocks)

    def _nearest(self, nearest: Nearest) -> NearestLength:
        return NearestLength(length=self._length(nearest.length), blocks=nearest.blocks)

    def _shortage(self, shortage: Shortage, stacks: int) -> ShortageReport:
        return ShortageReport(
            cause=shortage.cause,
            conflict=tuple(map(name_stack, shortage.conflict)),
            contended_from=shortage.contended_from,
            contended_until=shortage.contended_until,
            smallest_conflict_proven=shortage.smallest_conflict_proven,
            blocks_to_add=tuple(write_to_add(each, self._small) for each in shortage.blocks_to_add),
            not_helped=tuple(map(name_stack, shortage.not_helped)) or UNSET,
            scarce_blocks=tuple(
                write_scarce(each, stacks, self._words) for each in shortage.scarce_blocks
            ),
        )

    def _length(self, quanta: int) -> str:
        return to_text(quanta, self._unit)

    def _error(self, quanta: int) -> str:
        return to_text(quanta, self._small)


def _changes(changes: BlockChanges) -> ChangesOfBlocks:
    return ChangesOfBlocks(
        block_changes=changes.block_changes, lower_bound=changes.lower_bound, proven=changes.proven
    )


def write_to_add(wanted: Wanted, small: SmallUnit) -> BlockToAdd:
    """A block to add, as sent; its largest error is in the small unit."""
    return BlockToAdd(
        nominal=to_text(wanted.nominal, wanted.unit),
        unit=wanted.unit,
        role=wanted.role,
        compositions=compositions_with(wanted.nominal, wanted.unit, wanted.role),
        max_error=UNSET if wanted.max_error is None else _at_most(wanted.max_error, small),
    )


def _at_most(quanta: int, small: SmallUnit) -> str:
    """Rounded down to a tenth of a nanometre or microinch, so that it has a short exact text."""
    grain = _GRAIN[small]
    return to_text(quanta // grain * grain, small)
