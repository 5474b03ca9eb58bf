"""A block as one row of text: what CSV writes, history keeps, and changes are told by."""

from datetime import date
from typing import Final

from msgspec import Struct
from msgspec.structs import asdict

from wrung.calibrations import Calibration
from wrung.lengths import SMALL_UNIT, AnyUnit, to_text
from wrung_service.store.blocks import KeptBlock


class BlockRow(Struct, frozen=True, kw_only=True):
    """A block in text; lengths in its own unit, deviations and uncertainties in the small one.

    None for what is not known. The names are those of the members on the wire.
    """

    id: str
    set: str | None
    nominal: str
    unit: str
    role: str
    grade: str | None
    material: str | None
    section: str | None
    serial: str | None
    maker_number: str | None
    limit_deviation: str | None
    deviation: str | None
    expanded_uncertainty: str | None
    certificate: str | None
    laboratory: str | None
    calibrated_on: str | None
    due_on: str | None
    coverage_factor: str | None
    degrees_of_freedom: str | None
    variation: str | None
    expansion: str | None
    expansion_uncertainty: str | None
    uses: str
    minutes_out: str
    condition: str
    condition_reason: str | None
    body: str | None


COLUMNS: Final = BlockRow.__struct_fields__


class MemberChange(Struct, frozen=True, kw_only=True):
    """One member of a block, before and after, as text; None for what is not known."""

    member: str
    before: str | None
    after: str | None


def row_of(kept: KeptBlock) -> BlockRow:
    """The block as a row."""
    block = kept.block
    small = SMALL_UNIT[block.unit]
    return BlockRow(
        id=block.id,
        set=block.set,
        nominal=to_text(block.nominal, block.unit),
        unit=block.unit,
        role=block.role,
        grade=block.grade,
        material=block.material,
        section=block.section,
        serial=block.serial,
        maker_number=kept.maker_number,
        limit_deviation=_length(block.limit_deviation, small),
        deviation=_length(block.deviation, small),
        expanded_uncertainty=_length(block.expanded_uncertainty, small),
        **_calibration(block.calibration, small),
        uses=str(kept.uses),
        minutes_out=str(kept.minutes_out),
        condition=kept.condition,
        condition_reason=kept.condition_reason,
        body=block.body,
    )


def changes(before: KeptBlock, after: KeptBlock) -> tuple[MemberChange, ...]:
    """What differs between two states of a block."""
    old, new = asdict(row_of(before)), asdict(row_of(after))
    return tuple(
        MemberChange(member=name, before=old[name], after=new[name])
        for name in COLUMNS
        if old[name] != new[name]
    )


OF_CALIBRATION: Final = (
    "certificate",
    "laboratory",
    "calibrated_on",
    "due_on",
    "coverage_factor",
    "degrees_of_freedom",
    "variation",
    "expansion",
    "expansion_uncertainty",
)


def _calibration(known: Calibration | None, small: AnyUnit) -> dict[str, str | None]:
    if known is None:
        return dict.fromkeys(OF_CALIBRATION)
    return {
        "certificate": known.certificate,
        "laboratory": known.laboratory,
        "calibrated_on": _day(known.calibrated_on),
        "due_on": _day(known.due_on),
        "coverage_factor": _figure(known.coverage_factor),
        "degrees_of_freedom": _figure(known.degrees_of_freedom),
        "variation": _length(known.variation, small),
        "expansion": _figure(known.expansion),
        "expansion_uncertainty": _figure(known.expansion_uncertainty),
    }


def _length(quanta: int | None, unit: AnyUnit) -> str | None:
    return None if quanta is None else to_text(quanta, unit)


def _day(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _figure(figure: float | None) -> str | None:
    """The shortest text that reads as the same number."""
    return None if figure is None else repr(figure)
