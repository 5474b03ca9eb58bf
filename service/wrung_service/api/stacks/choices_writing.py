"""From alternatives and trade-offs to the wire."""

from collections.abc import Callable, Iterable, Sequence
from typing import TypeAlias

from msgspec import UNSET, UnsetType

from wrung.answers import Compared, Stack
from wrung.choices import Alternative, TradeOffPoint
from wrung.lengths import SMALL_UNIT, Unit, to_text
from wrung.targets import Target
from wrung_service.api.metrology.measures import ComparedErrors, write_compared
from wrung_service.api.stacks.built import BuiltStack, name_stack
from wrung_service.api.stacks.choices import (
    AlternativeStack,
    PlanTradeOff,
    StackAlternatives,
    TradeOffPlan,
)
from wrung_service.usecases.find_choices import JudgedAlternatives, JudgedTradeOff
from wrung_service.usecases.judge_stacks import JudgedStack

# Handed in, because the module that writes stacks imports this one.
WriteStack: TypeAlias = Callable[[Stack, JudgedStack], BuiltStack]


class ChoicesWriter:
    """Writes them in the units of one request, each stack as the answer's own are written."""

    def __init__(self, unit: Unit, targets: Iterable[Target], write_stack: WriteStack) -> None:
        self._unit: Unit = unit
        # By stack, as a target may need several.
        self._names = [each.name for target in targets for each in target.requirements()]
        self._stack = write_stack

    def alternatives(self, asked: JudgedAlternatives | None) -> StackAlternatives | UnsetType:
        """The alternatives, left out if nobody asked."""
        if asked is None:
            return UNSET
        pairs = zip(asked.found.stacks, asked.judged, strict=True)
        return StackAlternatives(
            complete=asked.found.complete,
            stacks=tuple(self._alternative(each, judged) for each, judged in pairs),
        )

    def trade_off(self, asked: JudgedTradeOff | None) -> PlanTradeOff | UnsetType:
        """The trade-off, left out if nobody asked."""
        if asked is None:
            return UNSET
        pairs = zip(asked.found.points, asked.judged, strict=True)
        return PlanTradeOff(
            complete=asked.found.complete,
            plans=tuple(self._plan(point, judged) for point, judged in pairs),
        )

    def _alternative(self, other: Alternative, judged: JudgedStack) -> AlternativeStack:
        return AlternativeStack(
            rank=other.rank,
            proven=other.proven,
            total_blocks=len(other.stack.blocks),
            stack=self._stack(other.stack, judged),
            compared_errors=self._compared(other.compared_errors),
        )

    def _plan(self, point: TradeOffPoint, judged: Sequence[JudgedStack]) -> TradeOffPlan:
        served = {stack.name for stack in point.stacks}
        return TradeOffPlan(
            total_blocks=point.total_blocks,
            largest_worst_case_error=self._error(point.largest_worst_case_error),
            total_worst_case_error=self._error(point.total_worst_case_error),
            proven=point.proven,
            stacks=tuple(map(self._stack, point.stacks, judged)),
            unmet=tuple(name_stack(name) for name in self._names if name not in served),
            compared_errors=self._compared(point.compared_errors),
        )

    def _compared(self, compared: Compared | None) -> ComparedErrors | UnsetType:
        return UNSET if compared is None else write_compared(compared, self._unit)

    def _error(self, quanta: int) -> str:
        return to_text(quanta, SMALL_UNIT[self._unit])
