"""The record of an answer as it stands on the wire."""

from datetime import date
from typing import Annotated, Any, Final, Literal, TypeAlias

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.blocks import Role
from wrung.lengths import SmallUnit, Unit
from wrung.measures import TemperatureUnit
from wrung_service.api.metrology.conditions import UseConditions
from wrung_service.api.stacks.built import StackOfTarget
from wrung_service.api.texts import ROLE, DecimalText, Labels, Moment

_Text: TypeAlias = Annotated[str, Meta(max_length=200)]
"""Records come back to be checked, so everything in them has a limit, never below what we write."""
_Day: TypeAlias = Annotated[date, Meta(extra_json_schema={"maxLength": 10})]
_MOST_STACKS: Final = 100_000

UncertaintyKind: TypeAlias = Literal["expanded_uncertainty", "limit_deviation", "grade"]


class StandardUsed(Struct, frozen=True, kw_only=True):
    """A standard whose figures or rules the answer rests on."""

    designation: Annotated[_Text, Meta(description="Such as `ISO 3650`.")]
    edition: Annotated[
        _Text | None,
        Meta(
            description="Year or letter of its edition; null for limits of error of micrometers "
            "and calipers, which are from copies that do not say it."
        ),
    ]
    used_for: Annotated[_Text, Meta(description="What was taken from it.")]


class RecordedBlock(Struct, frozen=True, kw_only=True):
    """A block as it was used; deviation and uncertainty are in the record's small unit."""

    id: Annotated[_Text, Meta(description="The block's id.")]
    serial: Annotated[_Text | None, Meta(description="Its serial number.")]
    set: Annotated[_Text | None, Meta(description="The set that it belongs to.")]
    nominal: Annotated[DecimalText, Meta(description="Nominal length, in `unit`.")]
    unit: Annotated[Unit, Meta(description="Unit that it is marked in.")]
    role: Annotated[Role, Meta(description="Gauge block or wear block.")]
    material: Annotated[_Text | None, Meta(description="Its material.")]
    grade: Annotated[_Text | None, Meta(description="Its grade.")]
    certificate: Annotated[_Text | None, Meta(description="Number of its certificate.")]
    laboratory: Annotated[_Text | None, Meta(description="Who calibrated it.")]
    calibrated_on: Annotated[_Day | None, Meta(description="Day of its calibration.")]
    due_on: Annotated[_Day | None, Meta(description="Last day before the next one.")]
    deviation: Annotated[
        DecimalText | None,
        Meta(description="Certified deviation; null if not certified, which counts as 0."),
    ]
    uncertainty: Annotated[DecimalText, Meta(description="What its length can be wrong by.")]
    uncertainty_kind: Annotated[
        UncertaintyKind, Meta(description="Where that figure is from: `grade` its grade's limit.")
    ]
    body: (
        Annotated[
            _Text | None, Meta(description="The step block that it is a step of, if it is one.")
        ]
        | UnsetType
    ) = UNSET


class RecordedStack(Struct, frozen=True, kw_only=True):
    """A stack as it was planned."""

    target: Annotated[_Text, Meta(description="The target's `ref`, as sent.")]
    role: Annotated[_Text | None, Meta(description=ROLE)]
    length: Annotated[DecimalText, Meta(description="Wanted length.")]
    nominal: Annotated[DecimalText, Meta(description="Sum of the nominal lengths.")]
    deviation: Annotated[DecimalText, Meta(description="Sum of the deviations, small unit.")]
    worst_case_error: Annotated[DecimalText, Meta(description="As in the answer, small unit.")]
    expanded_uncertainty: Annotated[
        DecimalText | None, Meta(description="Of its budget, if the request wanted one.")
    ]
    blocks: Annotated[
        tuple[RecordedBlock, ...], Meta(max_length=10_000, description="In wringing order.")
    ]


class RecordedTarget(Struct, frozen=True, kw_only=True):
    """A target, and what its sender wrote on it."""

    target: Annotated[_Text, Meta(description="Its `ref`, as sent.")]
    kind: Annotated[_Text, Meta(description="Its kind.")]
    labels: Annotated[Labels, Meta(description="As sent.")]


class StackRecord(Struct, frozen=True, kw_only=True):
    """What was asked, what was used, and what came of it, to be kept and checked again.

    It covers gauge blocks of length. `POST /v1/stack-checks` says whether it still holds.
    """

    made_at: Annotated[
        Moment,
        Meta(
            tz=True,
            description="When it was made (RFC 3339).",
            extra_json_schema={"maxLength": 40},
        ),
    ]
    version: Annotated[_Text, Meta(description="Version of the program that made it.")]
    request_sha256: Annotated[
        str,
        Meta(
            pattern=r"\A[0-9a-f]{64}\Z",
            max_length=64,
            description="SHA-256 of `request` in the canonical form of RFC 8785.",
        ),
    ]
    request: Annotated[
        dict[str, Any],
        Meta(
            description="The request as it was understood: lengths as decimal text without "
            "needless zeros, defaults filled in. It can be posted again."
        ),
    ]
    unit: Annotated[Unit, Meta(description="Unit of the lengths.")]
    small_unit: Annotated[SmallUnit, Meta(description="Unit of deviations and errors.")]
    temperature_unit: Annotated[TemperatureUnit, Meta(description="Unit of temperatures.")]
    joint_allowance: Annotated[DecimalText, Meta(description="As used, small unit.")]
    conditions: Annotated[
        UseConditions, Meta(description="As used: with the day of use, and 20 °C if not given.")
    ]
    standards: Annotated[
        tuple[StandardUsed, ...], Meta(max_length=100, description="What the answer rests on.")
    ]
    targets: Annotated[
        tuple[RecordedTarget, ...], Meta(max_length=1000, description="In the order sent.")
    ]
    stacks: Annotated[
        tuple[RecordedStack, ...],
        Meta(max_length=_MOST_STACKS, description="In the order of the answer."),
    ]
    unmet: Annotated[
        tuple[StackOfTarget, ...],
        Meta(max_length=_MOST_STACKS, description="Stacks that it has not."),
    ]
