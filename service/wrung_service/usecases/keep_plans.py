"""Keep plans with their promises: all of it in one transaction, or nothing."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

import msgspec
import sqlalchemy as sa
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.store import history, promises
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError
from wrung_service.store.idempotency import KeptAnswer, Key, keep_answer
from wrung_service.store.plans import (
    REPLANNED,
    PlanHead,
    PlanState,
    StoredPlan,
    add_plan,
    change_plan,
    due_to_expire,
    end_plan,
    plan_of,
    settle_risks,
)
from wrung_service.store.promises import Promise
from wrung_service.store.risks import mark_plans
from wrung_service.usecases.shelf.counting import risk_event


class NewPlan(Struct, frozen=True, kw_only=True):
    """A plan to keep, and what it was worked out from.

    Attributes:
        versions: by id, the version of each of its blocks.
        key: under which the answer is kept, if the client gave one.
    """

    plan: StoredPlan
    promises: tuple[Promise, ...]
    versions: Mapping[str, int]
    key: tuple[Key, KeptAnswer] | None = None


class ChangedPlan(Struct, frozen=True, kw_only=True):
    """Another answer for a plan that there is; its version is still the one before.

    Attributes:
        promises: all that it is to have from now on.
        lost: blocks that it counted on and has nothing in place of.
    """

    plan: StoredPlan
    promises: tuple[Promise, ...]
    versions: Mapping[str, int]
    why: str | None
    lost: tuple[str, ...] = ()


def keep_plan(
    store: Store, new: NewPlan, changed: Sequence[ChangedPlan] = (), *, now: datetime
) -> None:
    """Keep a plan, and the plans that give way to it.

    Raises:
        TakenError: a block was promised to another plan meanwhile, or changed.
        VersionError: a plan that gives way was changed meanwhile.
        AnsweredError: the same request was answered meanwhile.
        KeyReusedError: the key came with another request.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> None:
        if new.key is not None:
            keep_answer(connection, *new.key, now)
        versions = dict(new.versions)
        for each in changed:
            versions.update(each.versions)
        promises.lock_blocks(connection, new.plan.site_id, versions)
        for each in changed:
            _free(connection, each, now)
        add_plan(connection, new.plan)
        promises.add_promises(connection, new.plan.site_id, new.plan.id, new.promises)
        events = [e for each in changed for e in _change(connection, each, new.plan, now)]
        history.append(connection, _made(new, now), *events)

    store.write(work)


def keep_change(store: Store, changed: ChangedPlan, *, who: str, now: datetime) -> None:
    """Keep another answer for a plan.

    Raises:
        TakenError: a block was promised to another plan meanwhile, or changed.
        VersionError: the plan was changed meanwhile.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> None:
        promises.lock_blocks(connection, changed.plan.site_id, changed.versions)
        _free(connection, changed, now)
        events = _change(connection, changed, None, now)
        history.append(connection, *(replace(each, who=who) for each in events))

    store.write(work)


def _free(connection: sa.Connection, changed: ChangedPlan, now: datetime) -> None:
    """What the plan will not have any longer, before anybody is promised anything."""
    had = promises.promises_of(connection, changed.plan.id)
    # One whose stack stands elsewhere among the stacks is another one.
    gone = [each for each in had if each not in changed.promises]
    promises.release(connection, changed.plan, gone, now)


def _change(
    connection: sa.Connection, changed: ChangedPlan, by: StoredPlan | None, now: datetime
) -> tuple[history.Event, ...]:
    plan = changed.plan
    had = promises.promises_of(connection, plan.id)
    new = [each for each in changed.promises if each not in had]
    promises.add_promises(connection, plan.site_id, plan.id, new)
    before = plan_of(connection, plan.id)
    change_plan(connection, plan)
    settle_risks(connection, plan.id, now)
    marked = mark_plans(
        connection, plan.site_id, {(plan.id, name): "displaced" for name in changed.lost}, now
    )
    detail: dict[str, Any] = {
        "blocks": sorted({each.block for each in changed.promises}),
        "lost": list(changed.lost),
        # The plan has only its last one, and blocks of this one may have been used.
        "replaced_record": msgspec.json.decode(before.record),
    }
    if by is not None:
        detail["for_plan"] = by.id
    who = plan.made_by if by is None else by.made_by
    return (
        _event(plan, REPLANNED, who, now, detail, why=changed.why),
        *(risk_event(plan.site_id, each, who, now) for each in marked),
    )


def _made(new: NewPlan, now: datetime) -> history.Event:
    plan = new.plan
    detail = {
        "operation": plan.operation,
        "starts_at": plan.starts_at.isoformat(),
        "ends_at": plan.ends_at.isoformat(),
        "blocks": sorted({each.block for each in new.promises}),
    }
    return _event(plan, "plan.made", plan.made_by, now, detail)


def _event(  # noqa: PLR0913, PLR0917 - the members of an event
    plan: PlanHead,
    what: str,
    who: str,
    now: datetime,
    detail: Mapping[str, Any],
    why: str | None = None,
) -> history.Event:
    return history.Event(
        site=plan.site_id,
        at=now,
        who=who,
        what=what,
        kind="plan",
        subject=plan.id,
        job=plan.job,
        why=why,
        detail=detail,
    )


def finish_plan(  # noqa: PLR0913 - who did what, when and why
    store: Store, name: str, state: PlanState, *, who: str, why: str | None, now: datetime
) -> StoredPlan:
    """End a plan, which frees its blocks; ending it a second time in the same way is nothing.

    Raises:
        UnknownError: there is no such plan.
        StateError: it ended in another way.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> StoredPlan:
        plan = plan_of(connection, name, to_change=True)
        if plan.state == state:
            return plan
        if plan.state != "planned":
            raise StateError(f"The plan {name!r} is {plan.state} already.")
        end_plan(connection, plan, state, now)
        history.append(connection, _event(plan, f"plan.{state}", who, now, {}, why))
        return plan_of(connection, name)

    return store.write(work)


def expire_plans(store: Store, site: str, now: datetime) -> tuple[PlanHead, ...]:
    """End the plans that were not used in their time, so that their blocks are free for others.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        # Most of the time there is none, and reading holds nobody up.
        if not due_to_expire(connection, site, now):
            return ()

    def work(connection: sa.Connection) -> tuple[PlanHead, ...]:
        due = due_to_expire(connection, site, now, to_change=True)
        for plan in due:
            end_plan(connection, plan, "expired", now)
        if due:
            events = [_event(plan, "plan.expired", "wrung", now, {}) for plan in due]
            history.append(connection, *events)
        return due

    return store.write(work)
