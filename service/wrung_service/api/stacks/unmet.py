"""Why a target has no stack, and what would help, as it stands on the wire."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.answers import Restriction, ShortageCause, UnmetReason
from wrung.blocks import Role
from wrung.lengths import Unit
from wrung_service.api.problems import TakenBlock
from wrung_service.api.stacks.built import StackOfTarget
from wrung_service.api.stacks.scarcity import ScarceBlockReport
from wrung_service.api.texts import ROLE, DecimalText, Moment


class NearestLength(Struct, frozen=True, kw_only=True):
    """A length that can be built."""

    length: Annotated[DecimalText, Meta(description="The length.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Ids of blocks that build it.")]


class UnmetRemedy(Struct, frozen=True, kw_only=True):
    """What of the request stands in the way, with a stack that could be built without it."""

    lifted: Annotated[
        tuple[Restriction, ...],
        Meta(
            description="What would have to be given up, all of it together: `overdue`, leaving "
            "out overdue blocks; `exclude` or `only`, the member of the request; `max_blocks` or "
            "`wear_blocks`, those of the target; `required_ratio`, that the ratio is enforced."
        ),
    ]
    detail: Annotated[str, Meta(description="The same as a sentence.")]
    blocks: Annotated[tuple[str, ...], Meta(description="Ids of the blocks of that stack.")]


class UnmetStack(Struct, frozen=True, kw_only=True):
    """A stack that could not be had, and why."""

    target: Annotated[str, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[str | None, Meta(description=ROLE)]
    reason: Annotated[
        UnmetReason,
        Meta(
            description="`cannot_be_built`: not even with every block free that may be used, or "
            "none that keeps the ratio that it is planned with. With a `crib`, blocks that others "
            "have then may not be used; see `taken`. `blocks_in_use`: alone, but not beside the "
            "other stacks. `not_decided`: the search ended before."
        ),
    ]
    detail: Annotated[str, Meta(description="The reason as a sentence.")]
    remedies: Annotated[
        tuple[UnmetRemedy, ...],
        Meta(
            description="The least of the request that would have to be given up to build it, "
            "every such choice that was decided in time; empty where that does not help. For "
            "`blocks_in_use`, to build it beside the other stacks."
        ),
    ]
    held_by_priority: (
        Annotated[
            int | None,
            Meta(
                description="Where targets have different priorities, for `blocks_in_use`: the "
                "priority of the stacks that hold the blocks; null if these have none. Were all "
                "less urgent stacks given up, this one could still not be built; with those of "
                "this priority given up too, it could. Left out if that was not shown in time."
            ),
        ]
        | UnsetType
    ) = UNSET
    held_by: (
        Annotated[
            tuple[str, ...],
            Meta(
                description="The targets of that priority that hold blocks which a stack for this "
                "one would take."
            ),
        ]
        | UnsetType
    ) = UNSET
    taken: (
        Annotated[
            tuple[TakenBlock, ...],
            Meta(
                description="With a `crib`: what others have at that time of a plan that has this "
                "stack, too. Left out if they have none of it, or none was found in time."
            ),
        ]
        | UnsetType
    ) = UNSET
    nearest_below: Annotated[
        NearestLength | None,
        Meta(
            description="Longest buildable length below the target. For `blocks_in_use`, built "
            "from the blocks that this answer leaves free while the target is "
            "needed. Null for angle blocks, whose nearest angles are in `results`."
        ),
    ]
    nearest_above: Annotated[
        NearestLength | None, Meta(description="Shortest length above it, likewise.")
    ]
    rounded_to: (
        Annotated[
            DecimalText,
            Meta(
                description="For a target that takes `rounded_to` and states none: a step with "
                "which each of its stacks can be built by itself."
            ),
        ]
        | UnsetType
    ) = UNSET


class BlockToAdd(Struct, frozen=True, kw_only=True):
    """A block that would help."""

    nominal: Annotated[DecimalText, Meta(description="Its nominal length, in `unit`.")]
    unit: Annotated[Unit, Meta(description="Unit it is marked in.")]
    role: Annotated[Role, Meta(description="Gauge block or wear block.")]
    compositions: Annotated[
        tuple[str, ...],
        Meta(
            description="Ids of the compositions that have such a block, see "
            "`/v1/compositions`; empty if none has."
        ),
    ]
    max_error: (
        Annotated[
            DecimalText,
            Meta(
                description="Only where `enforce_required_ratio` limits the stack: the largest "
                "error the block may have, small unit. By the worst case this is its expanded "
                "uncertainty or limit deviation, plus the size of its deviation if not "
                "`corrected`. By variances it is its expanded uncertainty, k = 2, with drift and "
                "variation in length, and with the deviation as one more standard uncertainty if "
                "not `corrected`."
            ),
        ]
        | UnsetType
    ) = UNSET


class ShortageReport(Struct, frozen=True, kw_only=True):
    """Why not every target can be served."""

    cause: Annotated[
        ShortageCause,
        Meta(
            description="`wanted_at_once`: each target, or all of one `setup`, can be served by "
            "itself (proven); only that they are wanted at one time stands in the way, so that "
            "`timing` `in_turn`, or times of their own, would help. `restricted`: some cannot, but "
            "each of them could if the request allowed more, see `remedies`. `blocks_missing`: "
            "some cannot be served even with all blocks that may be used (proven). `undecided`: "
            "the search ended first."
        ),
    ]
    conflict: Annotated[
        tuple[StackOfTarget, ...],
        Meta(description="Stacks that cannot stand together; empty if not found."),
    ]
    contended_from: Annotated[
        Moment | None,
        Meta(
            description="Start of the time in which all of them are needed. Null without a start, "
            "and, like the end, where they are not all needed at one time."
        ),
    ]
    contended_until: Annotated[Moment | None, Meta(description="Its end, likewise.")]
    smallest_conflict_proven: Annotated[
        bool, Meta(description="Whether it is proven that no smaller set of stacks conflicts.")
    ]
    blocks_to_add: Annotated[
        tuple[BlockToAdd, ...],
        Meta(
            description="Blocks that together would let every stack be built but those "
            "`not_helped`, each of them a member of some composition; empty if none were found. "
            "See then `nearest_below` and `nearest_above`. With a `crib`, only what lacks even "
            "with all that others have at that time, see `taken`."
        ),
    ]
    not_helped: (
        Annotated[
            tuple[StackOfTarget, ...],
            Meta(
                description="Stacks that could not be built with `blocks_to_add` either, or for "
                "which none were found in time; left out if there are none."
            ),
        ]
        | UnsetType
    ) = UNSET
    scarce_blocks: Annotated[
        tuple[ScarceBlockReport, ...],
        Meta(
            description="Blocks of which a single one more would let more stacks be built, best "
            "first; only where it is proven that no plan has more stacks than this one, and where "
            "all targets have one priority. Empty if none was found with a limited effort."
        ),
    ]
