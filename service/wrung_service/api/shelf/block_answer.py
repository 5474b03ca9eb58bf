"""A block of the crib as it is answered."""

from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.blocks import Role, Section
from wrung.lengths import SMALL_UNIT, SmallUnit, Unit, to_text
from wrung_service.api.certificates.answer import CertifiedCalibration, write_calibration
from wrung_service.api.shelf.paging import NextPage
from wrung_service.api.texts import STEP_OF, DecimalText, Moment
from wrung_service.store.blocks import BlockOut, Condition, KeptBlock


class OpenLoan(Struct, frozen=True, kw_only=True):
    """Who has a block, and until when."""

    plan: Annotated[str | None, Meta(description="The plan that it went out for.")]
    borrower: Annotated[str | None, Meta(description="Who has it, if that was said.")]
    issued_at: Annotated[Moment, Meta(description="When it went out.")]
    due_at: Annotated[
        Moment | None, Meta(description="When it should be back; null if nobody said.")
    ]


class CribBlock(Struct, frozen=True, kw_only=True):
    """A block of the crib; null for what is not known."""

    id: Annotated[str, Meta(description="Its id.")]
    set: Annotated[str | None, Meta(description="The set it belongs to.")]
    nominal: Annotated[DecimalText, Meta(description="Nominal length, in its unit.")]
    unit: Annotated[Unit, Meta(description="Unit it is marked in.")]
    role: Annotated[Role, Meta(description="Gauge block or wear block.")]
    grade: Annotated[str | None, Meta(description="Its grade.")]
    material: Annotated[str | None, Meta(description="Its material.")]
    section: Annotated[Section | None, Meta(description="Its shape across its length.")]
    serial: Annotated[str | None, Meta(description="Its serial number.")]
    maker_number: Annotated[str | None, Meta(description="The maker's number of the article.")]
    limit_deviation: Annotated[
        DecimalText | None, Meta(description="Largest deviation to expect, in its small unit.")
    ]
    deviation: Annotated[
        DecimalText | None, Meta(description="Certified deviation, in its small unit.")
    ]
    expanded_uncertainty: Annotated[
        DecimalText | None, Meta(description="Its expanded uncertainty, in its small unit.")
    ]
    calibration: Annotated[
        CertifiedCalibration | None, Meta(description="When and how it was calibrated.")
    ]
    uses: Annotated[int, Meta(description="How often it went out and came back.")]
    minutes_out: Annotated[int, Meta(description="Minutes that it was out in all.")]
    condition: Annotated[Condition, Meta(description="Whether it can be used.")]
    condition_reason: Annotated[str | None, Meta(description="Why it is in this condition.")]
    condition_since: Annotated[Moment, Meta(description="Since when.")]
    out: Annotated[OpenLoan | None, Meta(description="Who has it; null if it is in the crib.")]
    made_at: Annotated[Moment, Meta(description="When it came into the crib.")]
    version: Annotated[int, Meta(description="Counts its changes; the ETag has it.")]
    body: Annotated[str, Meta(description=STEP_OF)] | UnsetType = UNSET


class BlockList(Struct, frozen=True, kw_only=True):
    """A page of the blocks that were asked for."""

    blocks: Annotated[tuple[CribBlock, ...], Meta(description="By id.")]
    next: NextPage


def write_block(kept: KeptBlock) -> CribBlock:
    """The block as it stands on the wire."""
    block = kept.block
    small = SMALL_UNIT[block.unit]
    known = block.calibration
    return CribBlock(
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
        limit_deviation=_text(block.limit_deviation, small),
        deviation=_text(block.deviation, small),
        expanded_uncertainty=_text(block.expanded_uncertainty, small),
        calibration=None if known is None else write_calibration(known, small),
        uses=kept.uses,
        minutes_out=kept.minutes_out,
        condition=kept.condition,
        condition_reason=kept.condition_reason,
        condition_since=kept.condition_since,
        out=_loan(kept.out),
        made_at=kept.made_at,
        version=kept.version,
        body=block.body or UNSET,
    )


def _text(quanta: int | None, small: SmallUnit) -> str | None:
    return None if quanta is None else to_text(quanta, small)


def _loan(out: BlockOut | None) -> OpenLoan | None:
    if out is None:
        return None
    return OpenLoan(
        plan=out.plan, borrower=out.borrower, issued_at=out.issued_at, due_at=out.due_at
    )
