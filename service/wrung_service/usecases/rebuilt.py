"""Stacks and answers from blocks that are known already, without a search and without any claim."""

from collections.abc import Sequence
from typing import Final

from wrung.answers import Answer, Bounds, Diagnostics, PlacedBlock, Stack, Unmet
from wrung.blocks import Block, margin
from wrung.targets import Requirement
from wrung_service.usecases.stack_query import StackQuery

BESIDE_STACKS: Final = frozenset({"compared", "totals", "changes", "preferences"})
"""Rules of the checker about what an answer says beside its stacks; these answers leave it out."""


def requirements_of(query: StackQuery) -> tuple[Requirement, ...]:
    """The stacks that the targets of a query need, in order."""
    return tuple(each for target in query.targets for each in target.requirements())


def stack_of(wanted: Requirement, blocks: Sequence[Block], joint_allowance: int) -> Stack:
    """The stack of those blocks, in that order, and its figures."""
    nominal = sum(block.nominal for block in blocks)
    deviation = sum(block.deviation or 0 for block in blocks)
    joints = len(blocks) - 1
    error = abs(nominal + deviation - wanted.length) + sum(map(margin, blocks))
    return Stack(
        target=wanted.target,
        role=wanted.role,
        length=wanted.length,
        nominal=nominal,
        joints=joints,
        blocks=tuple(
            PlacedBlock(id=b.id, nominal=b.nominal, role=b.role, unit=b.unit, body=b.body)
            for b in blocks
        ),
        deviation=deviation,
        worst_case_error=error + joints * joint_allowance,
    )


def answer_without_claims(query: StackQuery, stacks: Sequence[Stack]) -> Answer:
    """An answer with these stacks, which says nothing of what else could be built."""
    served = {stack.name for stack in stacks}
    errors = [stack.worst_case_error for stack in stacks]
    wanted = requirements_of(query)
    missing = tuple(
        Unmet(target=each.target, role=each.role, reason="not_decided")
        for each in wanted
        if each.name not in served
    )
    return Answer(
        outcome="partial" if missing else "feasible",
        proven=False,
        objective_proven=False,
        objective=query.objective,
        total_blocks=sum(len(stack.blocks) for stack in stacks),
        largest_worst_case_error=max(errors, default=0),
        total_worst_case_error=sum(errors),
        bounds=Bounds(served=len(wanted)),
        stacks=tuple(stacks),
        unmet=missing,
        solve_ms=0.0,
        diagnostics=Diagnostics(),
    )
