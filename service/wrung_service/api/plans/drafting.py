"""Work a plan out, from what is free and, if it may, from what less urgent plans have."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Final
from uuid import uuid4

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.api.crib.reading import CribReading, Needs, read_crib
from wrung_service.api.crib.request import CribOnRequest
from wrung_service.api.faults import Faults
from wrung_service.api.plans.request import PlanRequest
from wrung_service.api.plans.writing import lacking_of, stacks_of
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.reading import LookInto, StackReading, read_stack_request
from wrung_service.api.stacks.unmet import UnmetStack
from wrung_service.api.stacks.work import Worked, Worker
from wrung_service.api.stacks.writing import write_answer
from wrung_service.pool import Turn
from wrung_service.store.plans import StoredPlan
from wrung_service.usecases.crib_shelf import CribShelf, CribWanted, LookUp, Taken, Window
from wrung_service.usecases.keep_plans import ChangedPlan
from wrung_service.usecases.promised import promises_for
from wrung_service.usecases.replan import Replanned, replan

JSON_TEXT: Final = msgspec.json.Encoder()
PLAN_REQUESTS: Final = msgspec.json.Decoder(PlanRequest)
_SHARE: Final = 0.5
"""Of the time left, where searches with the blocks of other plans may have to follow."""


class Draft(Struct, frozen=True, kw_only=True):
    """A plan that was worked out and is not kept yet."""

    asked: PlanRequest
    worked: Worked
    plan: StoredPlan

    @property
    def query_windows(self) -> tuple[Window, ...]:
        """When the targets are needed, with the pause."""
        return self.worked.reading.query.windows

    @property
    def served(self) -> bool:
        """Whether every target has all its stacks."""
        return not self.worked.answer.unmet

    @property
    def enough(self) -> bool:
        """Whether what is served is as much as was asked for."""
        # A plan without any stack would promise nothing, and look as if it did.
        return self.served or (self.asked.partial and bool(self.worked.answer.stacks))

    @property
    def hopeless(self) -> tuple[UnmetStack, ...]:
        """Targets that this crib cannot serve, or not all of them, whatever the time."""
        answer = self.worked.answer
        if answer.proven:
            return answer.unmet
        return tuple(each for each in answer.unmet if each.reason == "cannot_be_built")

    @property
    def decided(self) -> bool:
        """Whether it is known if every target can be served."""
        return self.served or bool(self.hopeless)

    @property
    def taken(self) -> tuple[Taken, ...]:
        """What others have at its time."""
        crib = self.worked.reading.query.crib
        found = () if crib is None else crib.taken
        windows = self.query_windows
        return tuple(each for each in found if any(each.meets(window) for window in windows))

    @property
    def versions(self) -> Mapping[str, int]:
        """Of the blocks of its stacks."""
        return versions_of(self.worked.reading, used_in(self.worked))


def used_in(worked: Worked) -> frozenset[str]:
    """Ids of the blocks of all stacks."""
    stacks = worked.solved.answer.stacks
    return frozenset(placed.id for stack in stacks for placed in stack.blocks)


def versions_of(reading: StackReading, ids: frozenset[str]) -> dict[str, int]:
    """The versions that were looked up of what is promised for these blocks."""
    crib = reading.query.crib
    return {} if crib is None else {name: crib.versions[name] for name in sorted(crib.whole(ids))}


class Drafter:
    """Works plans out; makes no change to anything."""

    def __init__(self, worker: Worker, look_up: LookUp) -> None:
        self._worker, self._look_up = worker, look_up

    def draft(
        self,
        asked: PlanRequest,
        turn: Turn,
        now: datetime,
        who: str,
        beside: frozenset[str] = frozenset(),
    ) -> Draft:
        """A plan from what is free, and from what the plans ``beside`` have.

        Raises:
            Refusal: with everything that is wrong with the request.
        """
        worked = self._worker.work_out(
            asked.stacks(),
            turn,
            now,
            self._look_into(asked, self._look_up, now, beside),
            share=_SHARE if asked.displace else 1.0,
        )
        # With the guard bands that were found, or its stacks would be read anew without them.
        asked = replace(asked, targets=worked.reading.body.targets)
        plan = _plan(asked, worked, now, who)
        if plan.ends_at <= now:
            faults = Faults()
            faults.meaningless("/crib", "the time of need is over already")
            refuse_if_any(faults)
        return Draft(asked=asked, worked=worked, plan=plan)

    def _look_into(
        self, asked: PlanRequest, look_up: LookUp, now: datetime, beside: frozenset[str]
    ) -> LookInto:
        pause = timedelta(minutes=asked.pause_minutes)

        def look_into(
            crib: CribOnRequest, needs: Sequence[Needs], _: datetime, faults: Faults
        ) -> CribReading:
            _check_times(crib, needs, faults)
            found = read_crib(crib, needs, look_up, now, faults, pause=pause, beside=beside)
            refuse_if_any(faults)
            return found

        return look_into

    def anew(
        self,
        plan: StoredPlan,
        failed: frozenset[str],
        now: datetime,
        also_taken: Sequence[Taken] = (),
        *,
        complete: bool = False,
    ) -> "Anew":
        """A plan with other stacks in place of those that have failed blocks.

        With ``complete`` stacks that it should have and has not are planned, too; of a plan that
        may be partial, those that can be.

        Raises:
            Refusal: its request no longer makes sense, as when a set of it is gone.
        """
        asked = PLAN_REQUESTS.decode(plan.request)

        def look_up(wanted: CribWanted) -> CribShelf:
            found = self._look_up(wanted)
            return replace(found, taken=(*found.taken, *also_taken))

        look_into = self._look_into(asked, look_up, now, frozenset({plan.id}))
        reading = read_stack_request(asked.stacks(), self._worker.limits, now, look_into)
        old = (*stacks_of(plan), *(lacking_of(plan) if complete else ()))
        done = replan(reading.query, old, failed, self._worker.solve)
        if asked.partial:
            done = replace(done, changes=tuple(e for e in done.changes if e.before or e.after))
        return Anew(plan=plan, reading=reading, done=done)


class Anew(Struct, frozen=True, kw_only=True):
    """A plan of which some stacks were planned anew; not kept yet."""

    plan: StoredPlan
    reading: StackReading
    done: Replanned

    def changed(self, why: str | None, now: datetime) -> ChangedPlan:
        """What is to be kept."""
        solved = self.done.solved
        answer = write_answer(solved, self.reading)
        worked = Worked(reading=self.reading, solved=solved, answer=answer)
        plan = replace(
            self.plan,
            answer=JSON_TEXT.encode(answer).decode(),
            record=JSON_TEXT.encode(worked.record(now)).decode(),
        )
        lost = {name for each in self.done.changes if each.after is None for name in each.before}
        return ChangedPlan(
            plan=plan,
            promises=promises_for(self.reading.query, solved.answer.stacks),
            versions=versions_of(self.reading, used_in(worked)),
            why=why,
            lost=tuple(sorted(lost)),
        )

    def taken(self) -> tuple[Taken, ...]:
        """What it has from now on, for those that come after it."""
        return tuple(
            Taken(block=p.block, plan=self.plan.id, starts_at=p.starts_at, ends_at=p.ends_at)
            for p in promises_for(self.reading.query, self.done.solved.answer.stacks)
        )


def _check_times(crib: CribOnRequest, needs: Sequence[Needs], faults: Faults) -> None:
    """A plan is for a time that is stated."""
    if crib.needed_from is None and any(each.needed_from is None for each in needs):
        detail = "a plan needs the time of need, here or in every target"
        faults.meaningless("/crib/needed_from", detail)


def _plan(asked: PlanRequest, worked: Worked, now: datetime, who: str) -> StoredPlan:
    windows, pause = worked.reading.query.windows, timedelta(minutes=asked.pause_minutes)
    start = min(each.starts_at for each in windows)
    end = max(each.ends_at for each in windows) - pause
    unused = asked.expires_after_minutes
    return StoredPlan(
        id=uuid4().hex,
        site_id=asked.crib.site,
        job=asked.job,
        operation=asked.operation,
        priority=asked.priority,
        state="planned",
        starts_at=start,
        ends_at=end,
        pause_s=int(pause.total_seconds()),
        expires_at=end if unused is None else start + timedelta(minutes=unused),
        request=JSON_TEXT.encode(asked).decode(),
        answer=JSON_TEXT.encode(worked.answer).decode(),
        record=JSON_TEXT.encode(worked.record(now)).decode(),
        made_at=now,
        made_by=who,
        ended_at=None,
        version=1,
    )
