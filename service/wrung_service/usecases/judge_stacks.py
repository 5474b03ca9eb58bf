"""Work out how sure the stacks of a plan are, and whether they are good enough."""

from collections.abc import Iterable, Iterator

from msgspec import Struct

from wrung.answers import Stack
from wrung.blocks import by_id
from wrung.metrology import Budget, Decision, Purpose, decide
from wrung.metrology.block_remarks import certified_remarks
from wrung.targets import LengthTarget
from wrung.targets.built import BudgetedStack, budgeted
from wrung.targets.placing import conditions_of
from wrung.targets.tolerance_ratios import purpose_remarks
from wrung.texts import Phrase
from wrung_service.usecases.stack_query import StackQuery


class JudgedStack(Struct, frozen=True, kw_only=True):
    """What there is to say of one stack; None for what was not asked.

    Attributes:
        remarks: what to know before it is used.
    """

    budget: Budget | None = None
    decision: Decision | None = None
    remarks: tuple[Phrase, ...] = ()


def judge_stacks(stacks: Iterable[Stack], query: StackQuery) -> tuple[JudgedStack, ...]:
    """For each stack in turn its budget, a decision if it has a purpose, and remarks."""
    judge = _Judge(query)
    return tuple(judge.judge(stack) for stack in stacks)


class _Judge:
    """Judges the stacks of one query."""

    def __init__(self, query: StackQuery) -> None:
        self._query = query
        self._blocks = by_id(query.blocks)
        self._purposes = {each.name: each.purpose for each in query.purposes}
        self._lengths = {t.name_of(): t for t in query.targets if isinstance(t, LengthTarget)}
        self._conditions = conditions_of(query.targets, query.conditions)

    def judge(self, stack: Stack) -> JudgedStack:
        """What there is to say of a stack."""
        purpose, plain = self._purposes.get(stack.name), self._lengths.get(stack.name)
        outside = certified_remarks(self._blocks[placed.id] for placed in stack.blocks)
        served = plain if plain and plain.tolerance.upper > plain.tolerance.lower else None
        # A budget costs more than all the rest, so only those who need it pay for it.
        if purpose is None and served is None and not self._query.budgets:
            return JudgedStack(remarks=outside)
        under = self._conditions.get(stack.name, self._query.conditions)
        used = budgeted(stack, self._blocks, under, self._query.joint_allowance)
        return JudgedStack(
            budget=used.budget if self._query.budgets else None,
            decision=decide(used.budget, purpose) if purpose else None,
            remarks=(*_of_tolerances(used, served, purpose), *outside),
        )


def _of_tolerances(
    used: BudgetedStack, served: LengthTarget | None, purpose: Purpose | None
) -> Iterator[Phrase]:
    """Remarks on a worst case that is not small against the tolerances that the stack serves."""
    if served is not None:
        yield from served.results([used]).remarks
    if purpose is not None:
        yield from purpose_remarks(used.budget, purpose)
