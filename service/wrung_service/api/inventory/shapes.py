"""A whole shelf as it is sent and given back, and what an import comes to."""

from typing import Annotated

from msgspec import Meta, Struct

from wrung.lengths import SMALL_UNIT, Unit
from wrung_service.api.certificates.answer import ImportRemark
from wrung_service.api.metrology.calibration import sent_calibration
from wrung_service.api.shelf.block_body import BlockMembers
from wrung_service.api.shelf.ids import SiteId
from wrung_service.api.shelf.risks import PlanAtRisk, write_risks
from wrung_service.api.shelf.set_shape import MOST_BLOCKS, SetMembers
from wrung_service.api.wire_lengths import raw_length, raw_optional
from wrung_service.store.blocks import KeptBlock
from wrung_service.store.sets import StoredSet
from wrung_service.usecases.inventory.bring_in import BroughtIn
from wrung_service.usecases.shelf.write_blocks import BlockChange, Effect


class InventorySet(SetMembers, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A set of an inventory; its blocks stand among the blocks."""

    id: Annotated[SiteId, Meta(description="Its id.")]


class Inventory(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Sets and blocks of a site; what was given out can be sent back as it is."""

    unit: Annotated[Unit, Meta(description="Unit of lengths of blocks that state no other.")] = "mm"
    sets: Annotated[
        tuple[InventorySet, ...], Meta(max_length=500, description="Sets, without their blocks.")
    ] = ()
    blocks: Annotated[tuple[BlockMembers, ...], Meta(max_length=MOST_BLOCKS, description="Blocks.")]


class ChangeOfMember(Struct, frozen=True, kw_only=True):
    """One member of a block, before and after, as text; null for what is not known."""

    member: Annotated[str, Meta(description="Its name, as in the CSV.")]
    before: Annotated[str | None, Meta(description="As it is, or was.")]
    after: Annotated[str | None, Meta(description="As it would be, or is.")]


class ChangeOfBlock(Struct, frozen=True, kw_only=True):
    """What an import does to a block."""

    id: Annotated[str, Meta(description="Its id.")]
    effect: Annotated[Effect, Meta(description="What happens to it.")]
    changes: Annotated[
        tuple[ChangeOfMember, ...], Meta(description="Its members that differ; none of a new one.")
    ]


class ChangeOfSet(Struct, frozen=True, kw_only=True):
    """What an import does to a set."""

    id: Annotated[str, Meta(description="Its id.")]
    effect: Annotated[Effect, Meta(description="What happens to it.")]


class ImportReport(Struct, frozen=True, kw_only=True):
    """What an import changed, or would change."""

    applied: Annotated[bool, Meta(description="False for a preview: nothing was stored.")]
    added: Annotated[int, Meta(description="Number of blocks that are new.")]
    changed: Annotated[int, Meta(description="Number of blocks that differ.")]
    unchanged: Annotated[int, Meta(description="Number of blocks that stay as they are.")]
    sets: Annotated[tuple[ChangeOfSet, ...], Meta(description="Each set of the import.")]
    blocks: Annotated[
        tuple[ChangeOfBlock, ...],
        Meta(description="Each block that is new or differs, in the order of the import."),
    ]
    at_risk: Annotated[
        tuple[PlanAtRisk, ...],
        Meta(
            description="Plans that cannot count any longer on a block that differs, or could not, "
            "each with the reason: plan them anew."
        ),
    ]
    remarks: Annotated[
        tuple[ImportRemark, ...], Meta(description="Remarks on the document, if there are any.")
    ]


def write_report(
    done: BroughtIn, prefix: str, remarks: tuple[ImportRemark, ...] = ()
) -> ImportReport:
    """The report as it stands on the wire."""
    effects = [each.effect for each in done.blocks]
    return ImportReport(
        applied=done.applied,
        added=effects.count("added"),
        changed=effects.count("changed"),
        unchanged=effects.count("unchanged"),
        sets=tuple(ChangeOfSet(id=each.after.id, effect=each.effect) for each in done.sets),
        blocks=tuple(_change(each) for each in done.blocks if each.effect != "unchanged"),
        at_risk=write_risks(done.at_risk, prefix),
        remarks=remarks,
    )


def _change(change: BlockChange) -> ChangeOfBlock:
    members = tuple(
        ChangeOfMember(member=each.member, before=each.before, after=each.after)
        for each in change.members
    )
    return ChangeOfBlock(id=change.after.block.id, effect=change.effect, changes=members)


def write_inventory(sets: tuple[StoredSet, ...], blocks: tuple[KeptBlock, ...]) -> Inventory:
    """A shelf in the form in which it can be sent back."""
    return Inventory(
        sets=tuple(_set(each) for each in sets), blocks=tuple(_block(each) for each in blocks)
    )


def _set(kept: StoredSet) -> InventorySet:
    names = InventorySet.__struct_fields__
    return InventorySet(**{name: getattr(kept, name) for name in names})


def _block(kept: KeptBlock) -> BlockMembers:
    block = kept.block
    small = SMALL_UNIT[block.unit]
    return BlockMembers(
        id=block.id,
        set=block.set,
        nominal=raw_length(block.nominal, block.unit),
        unit=block.unit,
        role=block.role,
        grade=block.grade,
        material=block.material,
        section=block.section,
        serial=block.serial,
        maker_number=kept.maker_number,
        limit_deviation=raw_optional(block.limit_deviation, small),
        deviation=raw_optional(block.deviation, small),
        expanded_uncertainty=raw_optional(block.expanded_uncertainty, small),
        calibration=sent_calibration(block.calibration, block.unit),
        condition=kept.condition,
        condition_reason=kept.condition_reason,
        uses=kept.uses,
        minutes_out=kept.minutes_out,
        body=block.body,
    )
