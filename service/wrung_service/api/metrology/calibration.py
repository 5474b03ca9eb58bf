"""A block's calibration on the wire."""

from datetime import date
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.calibrations import Calibration
from wrung.lengths import SMALL_UNIT, Unit
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.texts import BlockId, Day
from wrung_service.api.wire_lengths import OPTIONAL, OptionalLength, raw_optional


class BlockCalibration(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """When and how a block was calibrated; every member is optional.

    The deviation and its expanded uncertainty are members of the block itself.
    """

    certificate: (
        Annotated[
            BlockId,
            Meta(
                description="Number of the certificate. Lengths on one certificate share a "
                "reference, so their uncertainties add up; so do those of blocks "
                "that name no certificate."
            ),
        ]
        | None
    ) = None
    laboratory: Annotated[BlockId, Meta(description="Who calibrated.")] | None = None
    calibrated_on: (
        Annotated[Day, Meta(description="Day of the calibration; drift is counted from it.")] | None
    ) = None
    due_on: (
        Annotated[Day, Meta(description="Last day of use before the next calibration.")] | None
    ) = None
    coverage_factor: Annotated[
        float, Meta(ge=1, le=10, description="Coverage factor of `expanded_uncertainty`.")
    ] = 2.0
    degrees_of_freedom: (
        Annotated[
            float,
            Meta(
                ge=1,
                le=1_000_000,
                description="Effective degrees of freedom; null means infinitely many.",
            ),
        ]
        | None
    ) = None
    variation: (
        Annotated[
            OptionalLength,
            Meta(
                description="Measured variation in length, in the small unit; that of the grade if "
                "left out."
            ),
        ]
        | UnsetType
    ) = UNSET
    expansion: (
        Annotated[
            float,
            Meta(
                ge=-10,
                le=100,
                description="Measured coefficient of thermal expansion, 1e-6/K; that of the "
                "material if left out.",
            ),
        ]
        | None
    ) = None
    expansion_uncertainty: (
        Annotated[float, Meta(ge=0, le=100, description="Its standard uncertainty, 1e-6/K.")] | None
    ) = None


def read_calibration(
    wire: BlockCalibration | None, unit: Unit, at: Path, faults: Faults
) -> Calibration | None:
    """The calibration of a block marked in that unit; None if there is none."""
    if wire is None:
        return None
    calibrated = read_day(wire.calibrated_on, (*at, "calibrated_on"), faults)
    due = read_day(wire.due_on, (*at, "due_on"), faults)
    if calibrated is not None and due is not None and due < calibrated:
        faults.meaningless(pointer((*at, "due_on")), "lies before the day of calibration")
    return Calibration(
        certificate=wire.certificate,
        laboratory=wire.laboratory,
        calibrated_on=calibrated,
        due_on=due,
        coverage_factor=wire.coverage_factor,
        degrees_of_freedom=wire.degrees_of_freedom,
        variation=LengthReader(faults).optional(
            wire.variation, SMALL_UNIT[unit], (*at, "variation"), OPTIONAL
        ),
        expansion=wire.expansion,
        expansion_uncertainty=wire.expansion_uncertainty,
    )


def sent_calibration(known: Calibration | None, unit: Unit) -> BlockCalibration | None:
    """The calibration as requests send it; what `read_calibration` reads."""
    if known is None:
        return None
    return BlockCalibration(
        certificate=known.certificate,
        laboratory=known.laboratory,
        calibrated_on=_day(known.calibrated_on),
        due_on=_day(known.due_on),
        coverage_factor=known.coverage_factor,
        degrees_of_freedom=known.degrees_of_freedom,
        variation=raw_optional(known.variation, SMALL_UNIT[unit]),
        expansion=known.expansion,
        expansion_uncertainty=known.expansion_uncertainty,
    )


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def read_day(text: str | None, at: Path, faults: Faults) -> date | None:
    """A calendar day."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        # The schema allows 31 February; the calendar does not.
        faults.meaningless(pointer(at), "is not a day in the calendar")
        return None
