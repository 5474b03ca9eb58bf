"""Work out how sure the stacks of a plan are, and whether they are good enough."""

from collections.abc import Iterable

from msgspec import Struct

from wrung.answers import Stack
from wrung.blocks import Block
from wrung.metrology import Budget, Decision, decide, stack_budget
from wrung_service.usecases.stack_query import StackQuery


class JudgedStack(Struct, frozen=True, kw_only=True):
    """What there is to say of one stack; None for what was not asked."""

    budget: Budget | None = None
    decision: Decision | None = None


def judge_stacks(stacks: Iterable[Stack], query: StackQuery) -> tuple[JudgedStack, ...]:
    """For each stack in turn its budget, and a decision if it has a purpose."""
    blocks = {block.id: block for block in query.blocks}
    return tuple(_judge(stack, blocks, query) for stack in stacks)


def _judge(stack: Stack, blocks: dict[str, Block], query: StackQuery) -> JudgedStack:
    purpose = next((each.purpose for each in query.purposes if each.name == stack.name), None)
    if purpose is None and not query.budgets:
        return JudgedStack()
    budget = stack_budget(
        [blocks[placed.id] for placed in stack.blocks],
        query.conditions,
        target=stack.length,
        joint_allowance=query.joint_allowance,
    )
    return JudgedStack(
        budget=budget if query.budgets else None,
        decision=decide(budget, purpose) if purpose else None,
    )
