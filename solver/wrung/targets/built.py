"""A finished stack: its best known length, and how uncertain that is."""

from collections.abc import Mapping, Sequence
from typing import Annotated

from msgspec import Meta, Struct
from msgspec.structs import asdict

from wrung.answers import Stack
from wrung.blocks import Block
from wrung.measures import Deviation, Length, Margin
from wrung.metrology.budget.stack import Budget, stack_budget
from wrung.metrology.conditions import Conditions, reference_figure
from wrung.stack_names import StackName
from wrung.texts import Phrase, phrase


class BudgetedStack(Stack, frozen=True, kw_only=True):
    """A stack with its uncertainty budget under the conditions of its use."""

    budget: Budget
    conditions: Conditions


class BuiltLength(Struct, frozen=True, kw_only=True):
    """A stack as built; length, error and margin are those at 20 °C."""

    target: Annotated[str, Meta(description="The target's `ref`.")]
    role: Annotated[str | None, Meta(description="The part that the stack plays in it.")] = None
    wanted_length: Annotated[Length, Meta(description="The wanted length.")]
    length: Annotated[
        Length,
        Meta(description="Best known length at 20 °C: nominal lengths and certified deviations."),
    ]
    error: Annotated[Deviation, Meta(description="`length` less the wanted length.")]
    margin: Annotated[
        Margin,
        Meta(
            description="How much the true length may differ from `length`: margins "
            "of the blocks, and joints."
        ),
    ]
    offset_in_use: Annotated[
        Deviation | None,
        Meta(
            description="What the stack is known to be off under the conditions of use: the error, "
            "what temperature does, and the middle of unequal limits; `offset` of its budget."
        ),
    ] = None
    expanded_uncertainty: Annotated[
        Margin | None,
        Meta(description="Expanded uncertainty of the length, of its budget, offset not counted."),
    ] = None

    @property
    def worst_case(self) -> int:
        """The worst-case error of the stack, quanta."""
        return abs(self.error) + self.margin

    @property
    def uncertainty(self) -> int | None:
        """Its expanded uncertainty if the offset is not allowed for; None without a budget."""
        if self.expanded_uncertainty is None or self.offset_in_use is None:
            return None
        return abs(self.offset_in_use) + self.expanded_uncertainty


def budgeted(
    stack: Stack, blocks: Mapping[str, Block], conditions: Conditions, joint_allowance: int
) -> BudgetedStack:
    """A stack with its budget.

    Args:
        stack: the stack.
        blocks: at least its blocks, by id.
        conditions: of its use.
        joint_allowance: what one joint adds to the worst case, quanta.

    Raises:
        InputError: as `stack_budget`.
    """
    budget = stack_budget(
        [blocks[placed.id] for placed in stack.blocks],
        conditions,
        target=stack.length,
        joint_allowance=joint_allowance,
    )
    return BudgetedStack(**asdict(stack), budget=budget, conditions=conditions)


def in_use(stacks: Sequence[Stack], name: StackName) -> BudgetedStack | None:
    """The stack of that name with its budget; None if there is none."""
    found = next((stack for stack in stacks if stack.name == name), None)
    return found if isinstance(found, BudgetedStack) else None


def built(stacks: Sequence[Stack], name: StackName) -> BuiltLength | None:
    """The stack of that name as built; None if there is none."""
    return next((as_built(stack) for stack in stacks if stack.name == name), None)


def temperature_remarks(stacks: Sequence[Stack]) -> tuple[Phrase, ...]:
    """A remark that figures are those at 20 °C, where a stack is used at another temperature.

    Angles of rolls and sine bars do not change if everything is as warm and expands alike; what
    bars, rolls and balls are made of is not stated.
    """
    conditions = (each.conditions for each in stacks if isinstance(each, BudgetedStack))
    if not any(_off_reference(each) for each in conditions):
        return ()
    return (phrase("temperature.of_figures", reference_figure()),)


def _off_reference(conditions: Conditions) -> bool:
    part = conditions.part
    warmer = part.temperature_difference.estimate if part else 0.0
    return bool(conditions.excess.estimate or warmer)


def as_built(stack: Stack) -> BuiltLength:
    """A stack's best known length and its margin."""
    error = stack.nominal + stack.deviation - stack.length
    budget = stack.budget if isinstance(stack, BudgetedStack) else None
    return BuiltLength(
        target=stack.target,
        role=stack.role,
        wanted_length=stack.length,
        length=stack.nominal + stack.deviation,
        error=error,
        # The worst case holds the known error, too; what may be unknown is the rest.
        margin=stack.worst_case_error - abs(error),
        offset_in_use=budget.offset if budget else None,
        expanded_uncertainty=budget.corrected.expanded_uncertainty if budget else None,
    )
