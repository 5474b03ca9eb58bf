"""Take blocks back, each in the condition that it comes in; their use counts as wear."""

from collections.abc import Iterator, Mapping, Sequence

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store import history
from wrung_service.store.blocks import (
    WITH_ITS_BODY,
    Condition,
    KeptBlock,
    update_block,
    with_other_steps,
)
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.store.loans import Loan, close_loan, jobs_of, open_loans
from wrung_service.store.risks import open_risks
from wrung_service.store.sites import get_site
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.conditions import (
    Changed,
    ConditionChange,
    check_whole,
    condition_event,
    in_condition,
    known_blocks,
    other_steps,
)
from wrung_service.usecases.shelf.counting import note_risks


class Return(Struct, frozen=True, kw_only=True):
    """One block that comes back; missing ones are among them, as they are no longer out."""

    block: str
    condition: Condition = "fit"
    reason: str | None = None


def take_back(store: Store, site: str, wanted: Sequence[Return], by: Acting) -> Changed:
    """The blocks as they are now, and the plans that cannot count on them; all, or none.

    Raises:
        UnknownError: there is no such site or block.
        StateError: a block is not out, or a step block would come back in part.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> Changed:
        get_site(connection, site)
        names = with_other_steps(connection, site, [each.block for each in wanted])
        held = known_blocks(connection, site, names)
        loans = open_loans(connection, site, names)
        back = (*wanted, *_along(held, loans, wanted))
        after = {each.block: _back(held[each.block], loans, each, by) for each in back}
        for each in back:
            close_loan(connection, site, _closed(loans[each.block], each, by))
        left = _left_behind(held, loans, wanted, by)
        after |= left
        check_whole((held | after).values())
        for block in after.values():
            update_block(connection, site, block)
        jobs = jobs_of(connection, loans.values())
        events = [_event(site, loans[each.block], each, jobs, by) for each in back]
        events += (condition_event(site, each, by) for each in left.values())
        other = [b for name, b in after.items() if b.condition != held[name].condition]
        events += note_risks(connection, site, other, by)
        history.append(connection, *events)
        at_risk = open_risks(connection, site, sorted(after))
        return Changed(blocks=tuple(after.values()), at_risk=at_risk)

    return store.write(work)


def _along(
    held: Mapping[str, KeptBlock], loans: Mapping[str, Loan], wanted: Sequence[Return]
) -> Iterator[Return]:
    """The other steps of the step blocks that come back: what is wrong with one is its own."""
    named = {each.block for each in wanted}
    by_body = {held[each.block].block.body: each for each in wanted}
    for name in sorted(loans.keys() - named):
        back = by_body[held[name].block.body]
        whole = back.condition in WITH_ITS_BODY
        yield replace(back, block=name) if whole else Return(block=name)


def _left_behind(
    held: Mapping[str, KeptBlock], loans: Mapping[str, Loan], wanted: Sequence[Return], by: Acting
) -> dict[str, KeptBlock]:
    """The steps that were not lent along, where their step block does not come back fit."""
    changes = [
        ConditionChange(block=each.block, condition=each.condition, reason=each.reason)
        for each in wanted
        if each.condition in WITH_ITS_BODY
    ]
    return {
        each.block: in_condition(held[each.block], each, by)
        for each in other_steps(held, changes)
        if each.block not in loans
    }


def _back(held: KeptBlock, loans: dict[str, Loan], wanted: Return, by: Acting) -> KeptBlock:
    loan = loans.get(wanted.block)
    if loan is None:
        raise StateError(f"The block {wanted.block!r} is not out.")
    minutes = round((by.at - loan.issued_at).total_seconds() / 60)
    change = ConditionChange(block=wanted.block, condition=wanted.condition, reason=wanted.reason)
    # What was found wrong while it was out is not undone by a scan.
    kept = held if wanted.condition == "fit" else in_condition(held, change, by)
    return replace(
        kept,
        uses=held.uses + 1,
        minutes_out=held.minutes_out + max(minutes, 0),
        version=held.version + 1,
        out=None,
    )


def _closed(loan: Loan, wanted: Return, by: Acting) -> Loan:
    return replace(
        loan,
        returned_at=by.at,
        returned_by=by.who,
        returned_condition=wanted.condition,
        note=wanted.reason or loan.note,
    )


def _event(
    site: str, loan: Loan, wanted: Return, jobs: Mapping[str | None, str], by: Acting
) -> history.Event:
    return history.Event(
        site=site,
        at=by.at,
        who=by.who,
        why=wanted.reason,
        what="block.returned",
        kind="block",
        subject=wanted.block,
        job=jobs.get(loan.plan_id),
        detail={"plan": loan.plan_id, "condition": wanted.condition},
    )
