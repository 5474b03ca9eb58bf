"""The body of ``POST /v1/stacks`` as it stands on the wire."""

from typing import TYPE_CHECKING, Annotated, Final, TypeAlias

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.answers import Objective
from wrung.blocks import Role, Section
from wrung.choices import MOST_ALTERNATIVES
from wrung.lengths import Unit
from wrung.measures import TemperatureUnit
from wrung.targets import Timing, WearBlocks
from wrung.targets.base import PRIORITY, Priority
from wrung_service.api.crib.request import CribOnRequest
from wrung_service.api.kinds.wanted import wanted_kinds
from wrung_service.api.metrology.budgets import BudgetDetail
from wrung_service.api.metrology.calibration import BlockCalibration
from wrung_service.api.metrology.conditions import UseConditions
from wrung_service.api.metrology.measures import WantedMeasure
from wrung_service.api.metrology.tolerances import PartTolerance
from wrung_service.api.stacks.preferences import WantedPreference
from wrung_service.api.texts import LABELS, BlockId, Labels, Name, Time
from wrung_service.api.wire_lengths import Length, OptionalLength, SignedLength
from wrung_service.api.words import TEMPERATURE_UNIT

# More than any composition has; the operator's limits are about blocks that there are.
_MOST_OF_A_SET = 200
_MOST_PREFERENCES = 10
MOST_USES: Final = 10_000_000
"""Of a block's counter."""


class BlockOnShelf(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A gauge block on the shelf.

    A certified block has `deviation` and its expanded or standard uncertainty; any other has
    `limit_deviation` or a `grade`.
    """

    id: Annotated[BlockId, Meta(description="Name of the block, unique in the request.")]
    nominal: Annotated[
        Length, Meta(description="Nominal length, in the block's unit.", examples=["0.1006"])
    ]
    deviation: (
        Annotated[
            SignedLength,
            Meta(description="Certified deviation from nominal, in its small unit."),
        ]
        | UnsetType
    ) = UNSET
    expanded_uncertainty: (
        Annotated[
            OptionalLength,
            Meta(description="Expanded uncertainty of that deviation, in its small unit."),
        ]
        | UnsetType
    ) = UNSET
    standard_uncertainty: (
        Annotated[
            OptionalLength,
            Meta(
                description="Instead of `expanded_uncertainty`: standard uncertainty of the "
                "deviation, in its small unit. It is multiplied by the coverage "
                "factor for 95.45 % and the `degrees_of_freedom` of `calibration`; "
                "2 if there are infinitely many."
            ),
        ]
        | UnsetType
    ) = UNSET
    limit_deviation: (
        Annotated[
            OptionalLength,
            Meta(
                description="Largest deviation to expect of a block without certificate, in "
                "its small unit."
            ),
        ]
        | UnsetType
    ) = UNSET
    grade: Annotated[Name, Meta(description="Grade, see `GET /v1/grades`.")] | None = None
    material: Annotated[Name, Meta(description="Material, see `GET /v1/materials`.")] | None = None
    section: (
        Annotated[
            Section,
            Meta(
                description="Its shape across its length. A long stack of nothing but `square` "
                "blocks, which have a hole, is held by a tie rod; not known if left out."
            ),
        ]
        | None
    ) = None
    serial: (
        Annotated[BlockId, Meta(description="Serial number marked on it; answers repeat it.")]
        | None
    ) = None
    set: Annotated[Name, Meta(description="The gauge set it belongs to.")] | None = None
    role: Annotated[Role, Meta(description="A wear block may only be at an end of a stack.")] = (
        "gauge"
    )
    body: (
        Annotated[
            Name,
            Meta(
                description="Name of the step block that it is a step of. Blocks of one body are "
                "its steps: at any time only one of them is used, as the highest block of one "
                "stack. Left out for a block by itself."
            ),
        ]
        | None
    ) = None
    unit: (
        Annotated[
            Unit,
            Meta(description="Unit that its lengths are in, if not the request's."),
        ]
        | None
    ) = None
    uses: (
        Annotated[
            int,
            Meta(
                ge=0,
                le=MOST_USES,
                description="How often it was used before, by its counter, for the preference "
                "`spread_wear`; 0 if left out.",
            ),
        ]
        | None
    ) = None
    calibration: (
        Annotated[BlockCalibration, Meta(description="When and how it was calibrated.")] | None
    ) = None


class SetOnShelf(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A whole gauge set, by its composition.

    The ids of its blocks look like `bench-3/0.1005`, or `bench-3/0.1005#2` for a second block of
    that length. Lengths are in the unit of the composition, as marked on the blocks.
    """

    id: Annotated[Name, Meta(description="Name of the set; the ids of its blocks start with it.")]
    composition: Annotated[Name, Meta(description="See `GET /v1/compositions`.")]
    grade: (
        Annotated[Name, Meta(description="Grade of its blocks, see `GET /v1/grades`.")] | None
    ) = None
    limit_deviation: (
        Annotated[
            OptionalLength,
            Meta(
                description="Largest deviation to expect of any of its blocks; takes "
                "precedence over the grade."
            ),
        ]
        | UnsetType
    ) = UNSET
    material: Annotated[Name, Meta(description="Material, see `GET /v1/materials`.")] | None = None
    missing: Annotated[
        tuple[Length, ...],
        Meta(
            max_length=_MOST_OF_A_SET,
            description="Nominal lengths of blocks that are not in the case.",
        ),
    ] = ()
    wear_block_nominals: Annotated[
        tuple[Length, ...],
        Meta(max_length=_MOST_OF_A_SET, description="Nominal lengths of wear blocks kept with it."),
    ] = ()
    uses: Annotated[
        int,
        Meta(
            ge=0,
            le=MOST_USES,
            description="How often each of its blocks was used before, where only the set is "
            "counted; for the preference `spread_wear`.",
        ),
    ] = 0
    calibration: (
        Annotated[BlockCalibration, Meta(description="When it was calibrated, for all its blocks.")]
        | None
    ) = None


class WantedTolerance(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Allowed difference between a stack's nominal length and the target, in the unit, mm or in."""

    lower: Annotated[SignedLength, Meta(description="In mm or in; 0 if unset.")] | UnsetType = UNSET
    upper: Annotated[SignedLength, Meta(description="In mm or in; 0 if unset.")] | UnsetType = UNSET


class WantedLength(
    Struct,
    frozen=True,
    kw_only=True,
    forbid_unknown_fields=True,
    tag="length",
    tag_field="kind",
):
    """A stack of a wanted length."""

    ref: Annotated[Name, Meta(description="Name of the target, unique in the request.")]
    length: Annotated[Length, Meta(description="Wanted length.", examples=["0.3506"])]
    tolerance: Annotated[WantedTolerance, Meta(description="Exact if left out.")] | None = None
    max_blocks: (
        Annotated[
            int, Meta(ge=1, le=1000, description="Maximum number of blocks, wear blocks included.")
        ]
        | None
    ) = None
    wear_blocks: Annotated[WearBlocks, Meta(description="How many ends carry a wear block.")] = (
        "none"
    )
    needed_from: (
        Annotated[
            Time,
            Meta(
                description="Start of the time the stack is needed (RFC 3339). Stacks whose times "
                "do not overlap may use the same block."
            ),
        ]
        | None
    ) = None
    needed_until: (
        Annotated[Time, Meta(description="End of that time, itself not included.")] | None
    ) = None
    labels: Annotated[Labels, Meta(description=LABELS)] = {}
    setup: (
        Annotated[
            Name,
            Meta(
                description="Names a set-up. Where `timing` is `in_turn`, targets that name the "
                "same one, sent one after another, are needed together; all others each by itself."
            ),
        ]
        | None
    ) = None
    priority: Annotated[Priority, Meta(description=PRIORITY)] | None = None


# Made from the library's kinds while the program runs, where no type checker can follow.
if TYPE_CHECKING:

    class WantedKind(Struct):
        """Any of the kinds that are derived from the library's."""

        ref: str
        labels: Labels

    WantedTarget: TypeAlias = WantedLength | WantedKind
else:
    WantedTarget = WantedLength | wanted_kinds()


class StackRequest(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The blocks on the shelf, and what to build from them.

    Lengths are decimal text, or JSON numbers, which are read digit by digit and must not have an
    exponent. Deviations, uncertainties and errors are in the small unit: µm for `mm`, µin for `in`.
    Lengths finer than 0.01 nm are refused. If a member is repeated in an object, the last one
    counts.
    """

    unit: Annotated[Unit, Meta(description="Unit of every length that states no other.")]
    temperature_unit: Annotated[TemperatureUnit, Meta(description=TEMPERATURE_UNIT)] | None = None
    # How many are allowed is for the operator to say, see `published_limits`.
    blocks: Annotated[tuple[BlockOnShelf, ...], Meta(description="Blocks one by one.")] = ()
    sets: Annotated[tuple[SetOnShelf, ...], Meta(description="Whole gauge sets.")] = ()
    crib: (
        Annotated[
            CribOnRequest,
            Meta(
                description="In place of `blocks` and `sets`: what a site of this service has "
                "free at the time of need."
            ),
        ]
        | None
    ) = None
    targets: Annotated[tuple[WantedTarget, ...], Meta(min_length=1, description="What to build.")]
    timing: Annotated[
        Timing,
        Meta(
            description="When the targets are needed. `together`: all at one time, or at the times "
            "that they state. `in_turn`: one after another in the order sent, as operations of a "
            "traveller follow one another; each has the whole shelf to itself, and of plans that "
            "are equally good the one that changes fewest blocks from step to step is given. "
            "Targets with times of their own are refused then, and `setup` groups targets that "
            "are needed together."
        ),
    ] = "together"
    objective: Annotated[
        Objective,
        Meta(
            description="`fewest_blocks`: total blocks, then the largest worst-case error of any "
            "stack, then their total. `least_error`: the largest worst-case error of any stack, "
            "then their total, then total blocks. As many stacks as possible come first. "
            "`error_measure` may put another error in the place of the worst-case error."
        ),
    ] = "fewest_blocks"
    preferences: Annotated[
        tuple[WantedPreference, ...],
        Meta(
            max_length=_MOST_PREFERENCES,
            description="Goals after the objective and the fewest changes of blocks, in the order "
            "sent: of plans that are equally good, which is chosen. Each is proven in turn. They "
            "are about blocks of length, and about the plan itself, not about `alternatives` and "
            "`trade_off`.",
        ),
    ] = ()
    error_measure: (
        Annotated[
            WantedMeasure,
            Meta(description="What errors are compared by; the worst-case error if left out."),
        ]
        | None
    ) = None
    alternatives: (
        Annotated[
            int,
            Meta(
                ge=1,
                le=MOST_ALTERNATIVES,
                description="How many of the next best stacks to add; only for a request with "
                "a single stack. `preferences` do not count for them: of blocks that are as good, "
                "any may be named.",
            ),
        ]
        | None
    ) = None
    trade_off: Annotated[
        bool,
        Meta(
            description="Whether to add all plans that trade more blocks for a smaller largest "
            "error. Takes about one more search for each plan. `preferences` do not count for "
            "them: of plans with the same two figures, any may be given."
        ),
    ] = False
    joint_allowance: (
        Annotated[
            OptionalLength,
            Meta(description="Error of one wrung joint, in the small unit; 1 µin if left out."),
        ]
        | UnsetType
    ) = UNSET
    exclude: Annotated[tuple[BlockId, ...], Meta(description="Ids of blocks to leave out.")] = ()
    only: (
        Annotated[tuple[BlockId, ...], Meta(description="If given, no other blocks are used.")]
        | None
    ) = None
    time_limit_ms: (
        Annotated[
            int,
            Meta(
                ge=1,
                description="Time for the whole request, including the wait for a worker. With "
                "`alternatives` or `trade_off` half of it is kept for these.",
            ),
        ]
        | None
    ) = None
    conditions: (
        Annotated[UseConditions, Meta(description="Where, when and how the stacks are used.")]
        | None
    ) = None
    budget: (
        Annotated[
            BudgetDetail,
            Meta(
                description="How much of its uncertainty budget to show for each stack. By "
                "default `totals` where `conditions` are given, otherwise `none`."
            ),
        ]
        | None
    ) = None
    part_tolerances: Annotated[
        tuple[PartTolerance, ...],
        Meta(description="Part tolerances that stacks must be good enough for, by target."),
    ] = ()
    handwork: Annotated[
        bool,
        Meta(description="Whether to add instructions and cautions for each stack."),
    ] = False
    language: Annotated[
        Name, Meta(description="Language of all texts: `en` or `de`.", examples=["de"])
    ] = "en"
    record: Annotated[
        bool,
        Meta(
            description="Whether the answer has a `record` to be kept: what was asked, what was "
            "used and what came of it. `Accept: text/csv` gives it as a table, one row a block."
        ),
    ] = False
    allow_overdue: Annotated[
        bool,
        Meta(
            description="Whether to use blocks that are overdue for calibration on the day of use."
        ),
    ] = False
