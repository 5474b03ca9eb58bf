"""From plans in the store to the wire."""

from collections.abc import Sequence
from typing import Any, cast

import msgspec
from msgspec import Raw

from wrung.stack_names import StackName
from wrung_service.api.plans.answer import (
    BlockPromise,
    PlanChange,
    PlanDetails,
    PlanSummary,
    StackChange,
)
from wrung_service.store.plans import PlanHead, StoredPlan
from wrung_service.store.promises import Promise
from wrung_service.usecases.replan import Change, OldStack

_MINUTE_S = 60


def write_summary(plan: PlanHead, at_risk: Sequence[str] = ()) -> PlanSummary:
    """A plan of a list."""
    return PlanSummary(**_members(plan, at_risk))


def write_details(
    plan: StoredPlan,
    promises: Sequence[Promise],
    *,
    at_risk: Sequence[str] = (),
    changes: Sequence[PlanChange] = (),
) -> PlanDetails:
    """A plan with its stacks; bodies go out as they were kept."""
    stacks = stacks_of(plan)
    return PlanDetails(
        **_members(plan, at_risk),
        promises=tuple(_promise(each, stacks) for each in promises),
        changes=tuple(changes),
        request=_as_it_is(plan.request),
        answer=_as_it_is(plan.answer),
        record=_as_it_is(plan.record),
    )


def _members(plan: PlanHead, at_risk: Sequence[str]) -> dict[str, Any]:
    return {
        "id": plan.id,
        "site": plan.site_id,
        "job": plan.job,
        "operation": plan.operation,
        "priority": plan.priority,
        "state": plan.state,
        "at_risk": tuple(at_risk),
        "needed_from": plan.starts_at,
        "needed_until": plan.ends_at,
        "pause_minutes": plan.pause_s // _MINUTE_S,
        "expires_at": plan.expires_at,
        "made_at": plan.made_at,
        "made_by": plan.made_by,
        "ended_at": plan.ended_at,
        "version": plan.version,
    }


def _as_it_is(body: str) -> Any:  # noqa: ANN401 - stands for the type that it has on the wire
    # Not read and written again: it was checked when it was kept.
    return cast("Any", Raw(body.encode()))


def _promise(promise: Promise, stacks: Sequence[OldStack]) -> BlockPromise:
    name = stacks[promise.stack].name
    return BlockPromise(
        block=promise.block,
        target=name.target,
        role=name.role,
        starts_at=promise.starts_at,
        ends_at=promise.ends_at,
    )


class _KeptBlock(msgspec.Struct):
    id: str


class _KeptStack(msgspec.Struct):
    target: str
    role: str | None
    blocks: tuple[_KeptBlock, ...]


class _KeptUnmet(msgspec.Struct):
    target: str
    role: str | None


class _KeptAnswer(msgspec.Struct):
    stacks: tuple[_KeptStack, ...]
    unmet: tuple[_KeptUnmet, ...]


_STACKS = msgspec.json.Decoder(_KeptAnswer)


def stacks_of(plan: StoredPlan) -> tuple[OldStack, ...]:
    """The stacks of a plan's answer."""
    return tuple(
        OldStack(
            name=StackName(target=each.target, role=each.role),
            blocks=tuple(block.id for block in each.blocks),
        )
        for each in _STACKS.decode(plan.answer).stacks
    )


def lacking_of(plan: StoredPlan) -> tuple[OldStack, ...]:
    """The stacks that a plan should have and has not."""
    return tuple(
        OldStack(name=StackName(target=each.target, role=each.role), blocks=())
        for each in _STACKS.decode(plan.answer).unmet
    )


def write_change(plan: PlanHead, changes: Sequence[Change]) -> PlanChange:
    """What changes of a plan."""
    return PlanChange(
        plan=plan.id,
        job=plan.job,
        operation=plan.operation,
        priority=plan.priority,
        stacks=tuple(
            StackChange(
                target=each.name.target, role=each.name.role, before=each.before, after=each.after
            )
            for each in changes
        ),
    )
