"""What becomes of the crib's blocks if they are to be as somebody says; and to make it so."""

from collections.abc import Mapping, Sequence
from typing import Any, Literal, TypeAlias

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung.blocks import Block
from wrung.lengths import to_text
from wrung_service.store import history
from wrung_service.store.blocks import (
    Condition,
    KeptBlock,
    add_certificates,
    find_blocks,
    insert_blocks,
    steps_of,
    update_block,
)
from wrung_service.store.errors import StateError
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.conditions import check_whole
from wrung_service.usecases.shelf.counting import note_risks
from wrung_service.usecases.shelf.rows import MemberChange, changes, row_of

Effect: TypeAlias = Literal["added", "changed", "unchanged"]
"""What an import does to a block or a set."""


class WantedBlock(Struct, frozen=True, kw_only=True):
    """A block as it is to be; None leaves a counter, or the condition, as it is."""

    block: Block
    maker_number: str | None = None
    condition: Condition | None = None
    condition_reason: str | None = None
    uses: int | None = None
    minutes_out: int | None = None


class BlockChange(Struct, frozen=True, kw_only=True):
    """What becomes of one block: the state before, None if there was none, and the one after."""

    before: KeptBlock | None
    after: KeptBlock

    @property
    def effect(self) -> Effect:
        """Whether it is new, or differs."""
        if self.before is None:
            return "added"
        return "changed" if self.members else "unchanged"

    @property
    def members(self) -> tuple[MemberChange, ...]:
        """What differs; nothing of a block that is new."""
        return () if self.before is None else changes(self.before, self.after)


def compare(
    connection: sa.Connection,
    site: str,
    wanted: Sequence[WantedBlock],
    by: Acting,
    *,
    to_change: bool = False,
) -> tuple[BlockChange, ...]:
    """What would become of the blocks; with ``to_change`` they are locked for it."""
    held = find_blocks(connection, site, [each.block.id for each in wanted], to_change=to_change)
    return tuple(_change(held.get(each.block.id), each, by) for each in wanted)


def apply(
    connection: sa.Connection, site: str, found: Sequence[BlockChange], by: Acting
) -> tuple[history.Event, ...]:
    """Make it so. The events are for whoever called, to be written as the last thing."""
    insert_blocks(connection, site, [each.after for each in found if each.before is None])
    changed = [each for each in found if each.effect == "changed"]
    for each in changed:
        update_block(connection, site, each.after)
    certified = [each.after.block for each in found if _newly_certified(each)]
    add_certificates(connection, site, certified, by.at, by.who)
    events = [_event(site, each, by) for each in found if each.effect != "unchanged"]
    return (*events, *note_risks(connection, site, [each.after for each in changed], by))


def check_steps(connection: sa.Connection, site: str, found: Sequence[BlockChange]) -> None:
    """Refuse two steps of one length, and a step block that is only in part in the crib.

    Raises:
        StateError: a step block would be so.
    """
    written = {each.after.block.id: each.after for each in found if each.effect != "unchanged"}
    bodies = {each.block.body for each in written.values()} - {None}
    if not bodies:
        return
    held = {each.block.id: each for each in steps_of(connection, site, bodies)}
    steps = [each for each in (held | written).values() if each.block.body in bodies]
    seen: set[tuple[str | None, int]] = set()
    for block in (each.block for each in steps):
        if (block.body, block.nominal) in seen:
            # A search could not tell which is meant.
            length = f"{to_text(block.nominal, block.unit)} {block.unit}"
            raise StateError(f"The step block {block.body!r} has two steps of {length}.")
        seen.add((block.body, block.nominal))
    check_whole(steps)


def _change(held: KeptBlock | None, wanted: WantedBlock, by: Acting) -> BlockChange:
    if held is None:
        return BlockChange(before=None, after=made_block(wanted, by))
    condition, reason = held.condition, held.condition_reason
    if wanted.condition is not None:
        condition, reason = wanted.condition, wanted.condition_reason
    after = replace(
        held,
        block=wanted.block,
        maker_number=wanted.maker_number,
        condition=condition,
        condition_reason=reason,
        condition_since=held.condition_since if condition == held.condition else by.at,
        uses=held.uses if wanted.uses is None else wanted.uses,
        minutes_out=held.minutes_out if wanted.minutes_out is None else wanted.minutes_out,
    )
    found = BlockChange(before=held, after=after)
    return replace(found, after=replace(after, version=held.version + bool(found.members)))


def made_block(wanted: WantedBlock, by: Acting) -> KeptBlock:
    """A block that is new."""
    return KeptBlock(
        block=wanted.block,
        maker_number=wanted.maker_number,
        condition=wanted.condition or "fit",
        condition_reason=wanted.condition_reason,
        condition_since=by.at,
        uses=wanted.uses or 0,
        minutes_out=wanted.minutes_out or 0,
        made_at=by.at,
    )


def _other_condition(change: BlockChange) -> bool:
    return change.before is not None and change.before.condition != change.after.condition


def _newly_certified(change: BlockChange) -> bool:
    before = change.before and _certified(change.before.block)
    after = _certified(change.after.block)
    return after != before and any(each is not None for each in after)


def _certified(block: Block) -> tuple[object, ...]:
    return block.deviation, block.expanded_uncertainty, block.calibration


def _event(site: str, change: BlockChange, by: Acting) -> history.Event:
    name, detail = _told(change)
    return history.Event(
        site=site,
        at=by.at,
        who=by.who,
        why=by.why or change.after.condition_reason,
        what=f"block.{name}",
        kind="block",
        subject=change.after.block.id,
        detail=detail,
    )


def _told(change: BlockChange) -> tuple[str, Mapping[str, Any]]:
    """What was done, and the figures of it."""
    if change.before is None:
        row = row_of(change.after)
        known = {name: getattr(row, name) for name in row.__struct_fields__}
        return "made", {name: text for name, text in known.items() if text is not None}
    detail = {each.member: {"before": each.before, "after": each.after} for each in change.members}
    if _other_condition(change):
        return "condition", detail
    return ("certified" if _newly_certified(change) else "changed"), detail
