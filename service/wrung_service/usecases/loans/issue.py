"""Give blocks out: for a plan, or to somebody; a scan of the ids is enough."""

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store import history
from wrung_service.store.blocks import KeptBlock, update_block, with_other_steps
from wrung_service.store.engine import Store
from wrung_service.store.errors import Holder, StateError, TakenError, UnknownError
from wrung_service.store.instants import as_text
from wrung_service.store.loans import Claim, Loan, claims, insert_loans
from wrung_service.store.plans import plan_of
from wrung_service.store.sites import get_site
from wrung_service.usecases.keep_plans import expire_plans
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.conditions import known_blocks


class Issue(Struct, frozen=True, kw_only=True):
    """What goes out.

    Attributes:
        plan: whose promise is kept; if neither it nor a borrower is named, the plan that each
            block is promised to now or next.
        due_at: when the blocks should be back; if None, when the promise ends, or before the
            block is promised to somebody else.
    """

    blocks: tuple[str, ...]
    plan: str | None = None
    borrower: str | None = None
    due_at: datetime | None = None
    note: str | None = None


def issue_blocks(store: Store, site: str, wanted: Issue, by: Acting) -> tuple[Loan, ...]:
    """The loans; all blocks go out, or none.

    Raises:
        UnknownError: there is no such site, block or plan.
        StateError: a block is not fit, or out already, or not promised to that plan.
        TakenError: a block is promised to others before it would be back.
        UnavailableError: the database does not do its work now.
    """
    # What a plan did not use in its time is not promised to it any longer.
    expire_plans(store, site, by.at)

    def work(connection: sa.Connection) -> tuple[Loan, ...]:
        get_site(connection, site)
        # A step block goes out as one, whichever of its steps is named.
        names = with_other_steps(connection, site, wanted.blocks)
        held = known_blocks(connection, site, names)
        _check_plan(connection, site, wanted.plan)
        found = claims(connection, site, names, by.at)
        going = [n for n in names if n in wanted.blocks or _goes_along(held[n], found, wanted)]
        _check_in(connection, [held[name] for name in going])
        loans = tuple(_loan(held[name], found, wanted, by) for name in going)
        insert_loans(connection, site, loans)
        for name in going:
            each = held[name]
            update_block(connection, site, replace(each, version=each.version + 1))
        jobs = {each.plan: each.job for each in found}
        history.append(connection, *(_event(site, each, jobs, by) for each in loans))
        return loans

    return store.write(work)


def _check_plan(connection: sa.Connection, site: str, name: str | None) -> None:
    if name is not None and plan_of(connection, name).site_id != site:
        raise UnknownError("plan", name)


def _loan(held: KeptBlock, found: Sequence[Claim], wanted: Issue, by: Acting) -> Loan:
    name = held.block.id
    _check(held)
    own = [each for each in found if each.block == name]
    claim = _claim_of(name, own, wanted)
    others = [each for each in own if claim is None or each.plan != claim.plan]
    due_at = _due(claim, others, wanted, by)
    taken = [e for e in others if e.starts_at < due_at] if due_at else others
    if taken:
        raise TakenError(tuple(_holder(each) for each in taken))
    return Loan(
        block_id=name,
        plan_id=claim.plan if claim else None,
        borrower=wanted.borrower,
        issued_at=by.at,
        issued_by=by.who,
        due_at=due_at,
        note=wanted.note,
    )


def _goes_along(held: KeptBlock, found: Sequence[Claim], wanted: Issue) -> bool:
    """Whether another step of a step block is lent with the one that was named.

    Not one that is unfit, nor one that came to its step block after the plan was made.
    """
    plans = {each.plan for each in found if each.block == held.block.id}
    # One that is out ends it all, as `_check_in` says.
    fit = held.condition == "fit" and (wanted.plan is None or wanted.plan in plans)
    return held.out is not None or fit


def _check_in(connection: sa.Connection, going: Sequence[KeptBlock]) -> None:
    """Whether none is out; whoever asks wants to know who has it."""
    for each in going:
        if (out := each.out) is None:
            continue
        name = each.block.id
        if out.plan is not None:
            job = plan_of(connection, out.plan).job
            raise StateError(f"The block {name!r} is out already, for the job {job!r}.")
        if out.borrower is not None:
            raise StateError(f"The block {name!r} is out already, to {out.borrower!r}.")
        raise StateError(f"The block {name!r} is out already.")


def _check(held: KeptBlock) -> None:
    if held.condition != "fit":
        condition = held.condition.replace("_", " ")
        raise StateError(f"The block {held.block.id!r} is not fit for use: {condition}.")


def _claim_of(name: str, own: Sequence[Claim], wanted: Issue) -> Claim | None:
    if wanted.plan is not None:
        found = next((each for each in own if each.plan == wanted.plan), None)
        if found is None:
            raise StateError(f"The block {name!r} is not promised to the plan {wanted.plan!r}.")
        return found
    # Whoever has a name and no plan does not come for one.
    return None if wanted.borrower is not None else next(iter(own), None)


def _due(
    claim: Claim | None, others: Sequence[Claim], wanted: Issue, by: Acting
) -> datetime | None:
    if wanted.due_at is not None:
        return wanted.due_at
    if claim is not None:
        return claim.due_at
    # Back before it is needed; promised to others at this moment, it cannot go out at all.
    return next((each.starts_at for each in others if each.starts_at > by.at), None)


def _holder(claim: Claim) -> Holder:
    return Holder(
        block=claim.block,
        plan=claim.plan,
        job=claim.job,
        operation=claim.operation,
        starts_at=claim.starts_at,
        ends_at=claim.ends_at,
    )


def _event(site: str, loan: Loan, jobs: dict[str, str], by: Acting) -> history.Event:
    return history.Event(
        site=site,
        at=by.at,
        who=by.who,
        why=loan.note,
        what="block.issued",
        kind="block",
        subject=loan.block_id,
        job=jobs.get(loan.plan_id or ""),
        detail={
            "plan": loan.plan_id,
            "borrower": loan.borrower,
            "due_at": as_text(loan.due_at) if loan.due_at else None,
        },
    )
