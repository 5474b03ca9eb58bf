"""A block's condition changes."""

from collections.abc import Collection, Iterator, Mapping, Sequence

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store import history
from wrung_service.store.blocks import (
    WITH_ITS_BODY,
    Condition,
    KeptBlock,
    find_blocks,
    update_block,
    with_other_steps,
)
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.store.risks import Risk, open_risks
from wrung_service.store.shelves import check_blocks
from wrung_service.store.sites import get_site
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.counting import note_risks


class ConditionChange(Struct, frozen=True, kw_only=True):
    """What became of a block."""

    block: str
    condition: Condition
    reason: str | None = None


class Changed(Struct, frozen=True, kw_only=True):
    """Blocks as they are now, and the plans that cannot count on them."""

    blocks: tuple[KeptBlock, ...]
    at_risk: tuple[Risk, ...]


def change_conditions(
    store: Store, site: str, wanted: Sequence[ConditionChange], by: Acting
) -> Changed:
    """All of them, or none.

    Raises:
        UnknownError: there is no such site or block.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> Changed:
        get_site(connection, site)
        named = [each.block for each in wanted]
        held = known_blocks(connection, site, with_other_steps(connection, site, named))
        every = (*wanted, *other_steps(held, wanted))
        after = {each.block: in_condition(held[each.block], each, by) for each in every}
        changed = [name for name, block in after.items() if block != held[name]]
        for name in changed:
            update_block(connection, site, after[name])
        events = [condition_event(site, after[name], by) for name in changed]
        events += note_risks(connection, site, [after[name] for name in changed], by)
        if events:
            history.append(connection, *events)
        return Changed(
            blocks=tuple(after.values()), at_risk=open_risks(connection, site, sorted(after))
        )

    return store.write(work)


def other_steps(
    held: Mapping[str, KeptBlock], wanted: Sequence[ConditionChange]
) -> Iterator[ConditionChange]:
    """What becomes of the other steps of step blocks that go away whole, or are found again."""
    named = {each.block: each for each in wanted}
    by_body = {held[name].block.body: each for name, each in named.items()}
    for name, other in held.items():
        if name in named or other.block.body not in by_body:
            continue
        change = by_body[other.block.body]
        # A step that is damaged or retired stays so, wherever its step block is.
        goes = change.condition in WITH_ITS_BODY and other.condition in ("fit", *WITH_ITS_BODY)
        if goes or (change.condition == "fit" and other.condition in WITH_ITS_BODY):
            yield replace(change, block=name)


def check_whole(steps: Collection[KeptBlock]) -> None:
    """Refuse a step block that is only in part in the crib.

    Raises:
        StateError: a step block would be so.
    """
    here = {each.block.body for each in steps if each.condition == "fit"}
    away = {each.block.body for each in steps if each.condition in WITH_ITS_BODY}
    for body in sorted(str(each) for each in (here & away) - {None}):
        raise StateError(
            f"The step block {body!r} would have fit steps beside some that are missing or at "
            "calibration; condition-changes takes all its steps along."
        )


def known_blocks(
    connection: sa.Connection, site: str, names: Sequence[str]
) -> dict[str, KeptBlock]:
    """The blocks, locked for a change.

    Raises:
        UnknownError: there is no such block.
    """
    check_blocks(connection, site, names)
    return find_blocks(connection, site, names, to_change=True)


def in_condition(held: KeptBlock, change: ConditionChange, by: Acting) -> KeptBlock:
    """The block in another condition; as it is, if it is in that one for that reason."""
    if (held.condition, held.condition_reason) == (change.condition, change.reason):
        return held
    since = held.condition_since if held.condition == change.condition else by.at
    return replace(
        held,
        condition=change.condition,
        condition_reason=change.reason,
        condition_since=since,
        version=held.version + 1,
    )


def condition_event(site: str, after: KeptBlock, by: Acting) -> history.Event:
    """What history says of it."""
    return history.Event(
        site=site,
        at=by.at,
        who=by.who,
        why=after.condition_reason,
        what="block.condition",
        kind="block",
        subject=after.block.id,
        detail={"condition": after.condition},
    )
