"""A stack as it stands on the wire, wherever an answer has one."""

from typing import Annotated, Final

from msgspec import UNSET, Meta, Struct, UnsetType
from msgspec.structs import asdict

from wrung.answers import PlacedBlock
from wrung.blocks import Block, Role, Section
from wrung.lengths import Unit, to_text
from wrung.metrology import Decision
from wrung.stack_names import StackName
from wrung.targets import Served
from wrung_service.api.metrology.budgets import StackBudget
from wrung_service.api.metrology.decisions import StackDecision, write_decision
from wrung_service.api.stacks.shelf import Shelf
from wrung_service.api.texts import ROLE, STEP_OF, DecimalText
from wrung_service.api.words import Said, Words

WRINGING_ORDER: Final = (
    "In wringing order: the base first, which is the largest gauge block; wear blocks last, the "
    "first of them onto the block before it, a second one onto the free face of the base. A step "
    "block stands on top: it is the last gauge block, and a wear block then goes onto the base."
)


class BlockInStack(Struct, frozen=True, kw_only=True):
    """A block at its place in a stack."""

    id: Annotated[str, Meta(description="The block's id.")]
    nominal: Annotated[DecimalText, Meta(description="Nominal length, written as in the request.")]
    role: Annotated[Role, Meta(description="Wear blocks are wrung on last, outside.")]
    unit: (
        Annotated[Unit, Meta(description="Unit of its nominal length, if not the request's.")]
        | UnsetType
    ) = UNSET
    serial: (
        Annotated[str, Meta(description="Its serial number, where the request gives one.")]
        | UnsetType
    ) = UNSET
    section: (
        Annotated[Section, Meta(description="`square`; left out for any other block.")] | UnsetType
    ) = UNSET
    body: Annotated[str, Meta(description=STEP_OF)] | UnsetType = UNSET


def write_block(block: PlacedBlock | Block, shelf: Shelf, unit: Unit) -> BlockInStack:
    """A block at its place, for a request in that unit."""
    return BlockInStack(
        id=block.id,
        # As it was written, so that clients can find it by its text.
        nominal=shelf.nominals.get(block.id) or to_text(block.nominal, block.unit),
        role=block.role,
        unit=UNSET if block.unit == unit else block.unit,
        serial=shelf.serials.get(block.id, UNSET),
        section="square" if block.id in shelf.square else UNSET,
        body=UNSET if block.body is None else block.body,
    )


class StackOfTarget(Struct, frozen=True, kw_only=True):
    """Names a stack."""

    target: Annotated[str, Meta(max_length=64, description="The target's `ref`, as sent.")]
    role: Annotated[Annotated[str, Meta(max_length=64)] | None, Meta(description=ROLE)]


class ServedCount(Struct, frozen=True, kw_only=True):
    """A count of stacks, and of targets that have every stack that they need."""

    stacks: Annotated[int, Meta(ge=0, description="Stacks; a target may need several.")]
    targets: Annotated[int, Meta(ge=0, description="Targets that have all of theirs.")]


def name_stack(name: StackName) -> StackOfTarget:
    """The name as it stands on the wire."""
    return StackOfTarget(target=name.target, role=name.role)


class DecisionOnStack(StackDecision, frozen=True, kw_only=True):
    """Whether the stack of a target is good enough for a part's tolerance.

    Only the stack is judged, with `comparison_uncertainty` if that was sent.
    """

    target: Annotated[str, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[str | None, Meta(description=ROLE)]


def write_decision_on(name: StackName, decision: Decision, words: Words) -> DecisionOnStack:
    """The decision as it stands on the wire, with the name of its stack."""
    written = asdict(write_decision(decision, words))
    return DecisionOnStack(target=name.target, role=name.role, **written)


def write_served(served: Served) -> ServedCount:
    """The count as it stands on the wire."""
    return ServedCount(stacks=served.stacks, targets=served.targets)


class BuiltStack(Struct, frozen=True, kw_only=True):
    """Blocks to wring together for one target."""

    target: Annotated[str, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    length: Annotated[DecimalText, Meta(description="Wanted length.")]
    nominal: Annotated[DecimalText, Meta(description="Sum of the nominal lengths.")]
    joints: Annotated[int, Meta(ge=0, description="Blocks in the stack less one.")]
    blocks: Annotated[tuple[BlockInStack, ...], Meta(description=WRINGING_ORDER)]
    deviation: Annotated[
        DecimalText, Meta(description="Sum of the certified deviations, in the small unit.")
    ]
    worst_case_error: Annotated[
        DecimalText,
        Meta(
            description="|nominal + deviation - length| + the blocks' margins + joints x joint "
            "allowance, in the small unit. A block's margin is its expanded uncertainty, or its "
            "limit deviation, or the limit of its grade."
        ),
    ]
    remarks: (
        Annotated[
            tuple[Said, ...],
            Meta(
                description="What to know before it is used: an error that is not small against "
                "the tolerance of its target or part, certified blocks that are outside their "
                "grade. Left out if there is nothing."
            ),
        ]
        | UnsetType
    ) = UNSET
    budget: (
        Annotated[StackBudget, Meta(description="Its uncertainty budget, if requested.")]
        | UnsetType
    ) = UNSET
    decision: (
        Annotated[
            DecisionOnStack,
            Meta(
                description="Whether it is good enough, if the request has a part tolerance for it."
            ),
        ]
        | UnsetType
    ) = UNSET
