"""What every kind of target has in common, and what it must be able to do.

A further kind is one file here with a subclass of `StackTarget`, its tests, and its name in
`Target`. Its members are described where they are annotated; `wrung.measures` says what a number
among them measures, so that the service can offer the kind without a line of its own.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Annotated, ClassVar, Final, Protocol, TypeAlias, TypeVar

from msgspec import Meta, Struct

from wrung.answers import Stack, Unmet
from wrung.checked_types import CheckedStruct
from wrung.measures import Length
from wrung.metrology.conditions import Conditions
from wrung.stack_names import StackName
from wrung.targets.requirement import Requirement, Tolerance, Turn, WearBlocks
from wrung.texts import Phrase

Count: TypeAlias = Annotated[int, Meta(ge=1, le=1000)]
Priority: TypeAlias = Annotated[int, Meta(ge=1, le=99)]
Name: TypeAlias = Annotated[str, Meta(max_length=64)]
RoundingStep: TypeAlias = Annotated[
    Length | None,
    Meta(
        description="Lengths that are worked out are rounded to this step; by default to 0.001 mm "
        "or 0.0001 in, or to the step of the blocks' lengths if that is coarser, but not more than "
        "ten times as much."
    ),
]
EXACT: Final = Tolerance()
PRIORITY: Final = (
    "How urgent the target is, if not all can be served: 1 is the most urgent, no priority the "
    "least. As many stacks as possible are served of the most urgent priority, then of the next, "
    "and so on. All stacks of a target have its priority; targets of one `setup` may have "
    "different ones."
)
LIBRARY_ONLY: Final = Meta(extra={"library_only": True})
"""Marks a member that has no place on the wire."""
R_co = TypeVar("R_co", bound="TargetResult", covariant=True)


class TimedTarget(CheckedStruct, frozen=True, kw_only=True, tag_field="kind"):
    """Something to set, check or build, that blocks are needed for during a time, or in turn.

    A kind may name the cautions that belong to its use, by their keys in the wordings, and say that
    its stacks stand upright in use, so that no supports for lying ones are wanted. Those with a
    ``place`` are needed one place after another, see `wrung.targets.in_turn`.
    """

    cautions: ClassVar[tuple[str, ...]] = ()
    stands: ClassVar[bool] = False

    ref: Annotated[str, Meta(description="Name of the target, unique in the request.")]
    needed_from: Annotated[
        datetime | None,
        Meta(
            description="Start of the time the stacks are needed (RFC 3339). Stacks whose times "
            "do not overlap may use the same block."
        ),
    ] = None
    needed_until: Annotated[
        datetime | None, Meta(description="End of that time, itself not included.")
    ] = None
    setup: Annotated[
        Name | None,
        Meta(
            description="Names a set-up. Where `timing` is `in_turn`, targets that name the same "
            "one, sent one after another, are needed together; all others each by itself."
        ),
    ] = None
    priority: Annotated[
        Priority | None,
        Meta(description=PRIORITY),
    ] = None
    place: Annotated[int | None, LIBRARY_ONLY] = None

    @property
    def cautions_in_use(self) -> tuple[str, ...]:
        """Those of its cautions that matter as it is asked for."""
        return self.cautions

    def turn(self, point: int | None = None) -> Turn | None:
        """The place of a stack, or of one of several points, where targets are needed in turn."""
        if self.place is None:
            return None if point is None else Turn(of=self.ref, step=(point,))
        return Turn(of=None, step=(self.place,) if point is None else (self.place, point))


class StackTarget(TimedTarget, frozen=True, kw_only=True):
    """Something to build stacks for. All lengths in quanta of 0.01 nm.

    A kind says whether a step block may stand on top of its stacks: whether what touches them is so
    narrow that higher steps beside the one in use are not in its way, as a feeler or an anvil is,
    and a roll or a slot is not (common practice, no source).
    """

    takes_step: ClassVar[bool] = False

    max_blocks: Annotated[
        Count | None, Meta(description="Maximum number of blocks in a stack, wear blocks included.")
    ] = None
    wear_blocks: Annotated[
        WearBlocks, Meta(description="How many ends of a stack carry a wear block.")
    ] = "none"

    @property
    def takes_step_in_use(self) -> bool:
        """Whether it does as it is asked for."""
        return self.takes_step

    def in_use(self, conditions: Conditions) -> Conditions:
        """The conditions under which its stacks are used: those of the request, or its own."""
        return conditions

    def name_of(self, role: str | None = None) -> StackName:
        """The name of a stack of this target; with a role, such as ``go``, of one of several."""
        return StackName(target=self.ref, role=role)

    def stack(
        self,
        length: int,
        *,
        role: str | None = None,
        tolerance: Tolerance = EXACT,
        point: int | None = None,
    ) -> Requirement:
        """A stack for this target, with all that holds for each of them."""
        return Requirement(
            target=self.ref,
            role=role,
            length=length,
            tolerance=tolerance,
            max_blocks=self.max_blocks,
            wear_blocks=self.wear_blocks,
            needed_from=self.needed_from,
            needed_until=self.needed_until,
            turn=self.turn(point),
            setup=self.setup,
            priority=self.priority,
            takes_step=self.takes_step_in_use,
        )


class TargetResult(Struct, frozen=True, kw_only=True, tag_field="kind"):
    """What the stacks of a target come to, in the terms of its trade."""

    target: Annotated[str, Meta(description="The target's `ref`.")]
    remarks: Annotated[
        tuple[Phrase, ...], Meta(description="What to know before the figures are used.")
    ] = ()


class TargetKind(Protocol[R_co]):
    """A kind of target."""

    @property
    def ref(self) -> str:
        """Names the target; unique in a request."""
        ...

    def requirements(self) -> tuple[Requirement, ...]:
        """The stacks that the target needs, each with a role of its own if they are several.

        Raises:
            InputError: it contradicts itself or is out of reach; pointers are relative to it.
        """
        ...

    def results(self, stacks: Sequence[Stack], unmet: Sequence[Unmet] = (), /) -> R_co:
        """The trade's answer from the stacks built, of this and of other targets.

        What depends on a stack that is not among them is None.
        """
        ...
