"""A size that is measured by way of rolls, pins, wires or balls, by comparing with a stack.

Each kind says how long the stack is for the wanted size, what size a length stands for, and by
how much its inputs change that; what follows from these is the same for all and stands here.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Annotated, ClassVar, TypedDict

from msgspec import Meta, Struct

from wrung.answers import Stack
from wrung.errors import Fault, not_negative, positive, require, unless
from wrung.measures import Deviation, Length, Margin
from wrung.targets.base import RoundingStep, StackTarget, TargetResult
from wrung.targets.built import BudgetedStack, BuiltLength, built, in_use, temperature_remarks
from wrung.targets.contributions import (
    SizeBudget,
    SizeInput,
    of_stack,
    size_budget,
    size_input,
    uncertainty_of,
)
from wrung.targets.requirement import Requirement
from wrung.targets.roll_contact import PressedRolls
from wrung.targets.steps import to_step
from wrung.texts import Phrase


class FoundSize(Struct, frozen=True, kw_only=True):
    """The size that a target is about: as wanted, as the stack has it, and as measured."""

    wanted_size: Annotated[Length, Meta(description="The size as wanted.")]
    exact_length: Annotated[
        Length, Meta(description="Exact length of the stack for the wanted size.")
    ]
    size_as_built: Annotated[
        Length | None, Meta(description="The size that the stack as built stands for.")
    ] = None
    error: Annotated[Deviation | None, Meta(description="That size less the wanted one.")] = None
    measured: Annotated[
        Length | None, Meta(description="The size that was measured, from `measured_length`.")
    ] = None
    measured_error: Annotated[
        Deviation | None, Meta(description="The measured size less the wanted one.")
    ] = None
    size_budget: Annotated[
        SizeBudget | None,
        Meta(description="How uncertain the size is, by these inputs; null without a stack."),
    ] = None


class InCommon(TypedDict):
    """The members of `SizeResult`."""

    target: str
    remarks: tuple[Phrase, ...]
    stack: BuiltLength | None


class ComparedTarget(StackTarget, frozen=True, kw_only=True):
    """What the kinds have in common whose stack is compared with what they measure."""

    step: RoundingStep = None
    comparison_uncertainty: Annotated[
        Margin,
        uncertainty_of("comparing with the stack, such as by a micrometer or an indicator"),
    ] = 0

    def slope(self) -> Decimal:
        """Change of the size over that of the stack, at the wanted size; as much for most kinds."""
        return Decimal(1)

    def inputs(self) -> tuple[SizeInput, ...]:
        """What else the size depends on, at the wanted size."""
        raise NotImplementedError

    def pressed(self) -> PressedRolls | None:
        """Its rolls under a force; None for kinds that state none."""
        return None

    def in_common(self, stacks: Sequence[Stack]) -> InCommon:
        """What the results of these kinds begin with."""
        pressed = self.pressed()
        said = () if pressed is None else pressed.remarks()
        return InCommon(
            target=self.ref,
            remarks=(*temperature_remarks(stacks), *said),
            stack=built(stacks, self.name_of()),
        )

    def budget(self, stacks: Sequence[Stack]) -> SizeBudget | None:
        """How uncertain the size is; None without its stack."""
        used = in_use(stacks, self.name_of())
        return None if used is None else size_budget(self._all_inputs(used))

    def _common_faults(self) -> Iterator[Fault | None]:
        yield from positive(self, "step")
        yield from not_negative(self, "comparison_uncertainty")
        if (pressed := self.pressed()) is not None:
            yield from pressed.faults()

    def _longer(self) -> int:
        pressed = self.pressed()
        return 0 if pressed is None else pressed.longer

    def _all_inputs(self, used: BudgetedStack) -> Iterator[SizeInput]:
        slope = self.slope()
        yield SizeInput(quantity="stack", standard_uncertainty=of_stack(used), sensitivity=slope)
        yield size_input("comparison", self.comparison_uncertainty, slope)
        yield from self.inputs()
        pressed = self.pressed()
        known = None if pressed is None else pressed.standard_uncertainty()
        if known is not None:
            yield SizeInput(quantity="compression", standard_uncertainty=known, sensitivity=-slope)


class SizeTarget(ComparedTarget, frozen=True, kw_only=True):
    """What the kinds have in common whose stack is compared with a size over or between rolls.

    A kind names the member that states the size, or works it out.
    """

    size_member: ClassVar[str]

    measured_length: Annotated[
        Length | None,
        Meta(description="What was measured in place of the stack, to get the size from it."),
    ] = None

    def requirements(self) -> tuple[Requirement, ...]:
        """The stack for the wanted size."""
        require(*self._common_faults(), *self.faults())
        length, measured = to_step(self._stack_length(), self.step), self.measured_length
        possible = measured is None or (self._size_of(measured) or 0) > 0
        require(
            unless(length > 0, *self.too_short()),
            unless(possible, "measured_length", "there is no size for which this is measured"),
        )
        return (self.stack(length),)

    @property
    def wanted_size(self) -> int:
        """The size as wanted, quanta."""
        wanted: int = getattr(self, self.size_member)
        return wanted

    def exact_length(self) -> int:
        """The stack for just the wanted size without any force, to the nearest quantum."""
        raise NotImplementedError

    def size_with(self, length: int) -> int | None:
        """The size that a stack of a length stands for, likewise; None if there is none."""
        raise NotImplementedError

    def faults(self) -> Iterator[Fault | None]:
        """What is wrong with the target by itself."""
        raise NotImplementedError

    def too_short(self) -> tuple[str, str]:
        """The member to blame, and what to say, where no length is left for the stack."""
        raise NotImplementedError

    def found(self, stacks: Sequence[Stack]) -> FoundSize:
        """The size as built and as measured, with its budget."""
        stack = built(stacks, self.name_of())
        size = None if stack is None else self._size_of(stack.length)
        measured = None if self.measured_length is None else self._size_of(self.measured_length)
        return FoundSize(
            wanted_size=self.wanted_size,
            exact_length=self._stack_length(),
            size_as_built=size,
            error=None if size is None else size - self.wanted_size,
            measured=measured,
            measured_error=None if measured is None else measured - self.wanted_size,
            size_budget=self.budget(stacks),
        )

    def _stack_length(self) -> int:
        return self.exact_length() + self._longer()

    def _size_of(self, length: int) -> int | None:
        return self.size_with(length - self._longer())


class SizeResult(TargetResult, frozen=True, kw_only=True):
    """What the results of these kinds have in common."""

    stack: Annotated[BuiltLength | None, Meta(description="The stack as built, if it was.")]
