"""From the body of ``POST /v1/plans`` to a plan that is kept, and to a preview of one."""

from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.texts import role_in_words
from wrung_service.api.callers import Caller, current_caller
from wrung_service.api.crib.taken import write_taken
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.plans.answer import PlanChange, PlanDetails, PlanPreview
from wrung_service.api.plans.displacing import displace
from wrung_service.api.plans.drafting import JSON_TEXT, Anew, Draft, Drafter
from wrung_service.api.plans.request import PlanAnew, PlanRequest
from wrung_service.api.plans.writing import write_change, write_details
from wrung_service.api.problem_types import BLOCKS_TAKEN, NOT_ALL_SERVED, NOT_DECIDED
from wrung_service.api.problems import Refusal, TakenBlock
from wrung_service.api.stacks.reading import Clock, published_limits
from wrung_service.api.stacks.unmet import UnmetStack
from wrung_service.api.stacks.work import Worker
from wrung_service.api.stacks.writing import unmet_in_words
from wrung_service.api.unknown import listed, point_to_unknown
from wrung_service.pool import BusyError, Turn
from wrung_service.store.engine import Store
from wrung_service.store.errors import StateError, TakenError, UnknownError, VersionError
from wrung_service.store.idempotency import AnsweredError, KeptAnswer, Key, kept_answer
from wrung_service.store.plans import StoredPlan, plan_of, risks_of
from wrung_service.store.promises import promises_of
from wrung_service.store.shelves import check_blocks
from wrung_service.usecases.crib_shelf import LookUp
from wrung_service.usecases.keep_plans import (
    NewPlan,
    expire_plans,
    keep_change,
    keep_plan,
)
from wrung_service.usecases.promised import promises_for

_TRIES: Final = 4
"""How often a lost race is solved anew before the client is told who has what."""
_MOST_TAKEN: Final = 100
_MOST_SAID: Final = 3
"""Targets that a refusal names."""
_NO_STACK: Final = {"en": "No stack for {}: {}", "de": "Keine Kombination für {}: {}"}
_UNDECIDED: Final = "No stack for {} was found before the search ended; there may be one."
_LEFT_WITHOUT: Final = "Less urgent plans that could give way would be left without a stack."
CREATED: Final = 201


class Outcome(Struct, frozen=True, kw_only=True):
    """A plan that was worked out, and those that give way to it.

    Attributes:
        free: the plan from what is free, which tells why others are in the way.
        settled: whether no other one was left to be looked for when the search ended.
    """

    draft: Draft
    free: Draft
    settled: bool
    given_way: tuple[Anew, ...] = ()

    @property
    def possible(self) -> bool:
        """Whether it may be kept: enough is served, and nobody is left without unasked."""
        return self.draft.enough and (self.draft.asked.leave_without or not self.left_without)

    @property
    def left_without(self) -> bool:
        """Whether another plan would lose a stack and get none in its place."""
        return not all(each.done.whole for each in self.given_way)

    @property
    def changes(self) -> tuple[PlanChange, ...]:
        """What changes of other plans."""
        return tuple(write_change(each.plan, each.done.changes) for each in self.given_way)


class PlanWork:
    """Makes plans; made once, as its decoder takes a moment."""

    def __init__(
        self, worker: Worker, clock: Clock, look_up: LookUp, store: Callable[[], Store]
    ) -> None:
        self._drafter = Drafter(worker, look_up)
        # As if nobody else had anything.
        self._alone = Drafter(worker, lambda wanted: replace(look_up(wanted), taken=()))
        self._clock, self._store = clock, store
        limits = worker.limits
        self._decoder = BodyDecoder(PlanRequest, published_limits(limits), limits.max_body_bytes)

    def make(self, body: bytes, turn: Turn, caller: Caller, key: Key | None) -> KeptAnswer:
        """The answer to ``POST /v1/plans``; the plan is kept when it returns.

        Raises:
            Refusal: with everything that is wrong with the request; 409, not all can be served.
            TakenError: others were faster again and again.
        """
        store = self._store()
        if key is not None and (kept := _kept(store, key)) is not None:
            return kept
        asked = self._decoder.decode(body)
        for left in reversed(range(_TRIES)):
            outcome = self._outcome(store, asked, turn, caller)
            if not outcome.possible:
                # The same request, sent twice at once, may be what has the blocks by now.
                if key is not None and (kept := _kept(store, key)) is not None:
                    return kept
                raise self._refusal(outcome, turn)
            try:
                return self._keep(store, outcome, key)
            except AnsweredError as error:
                return error.answer
            except (TakenError, VersionError):
                # What is free was looked up before; it is looked up anew.
                if not left:
                    raise _lost(outcome.draft) from None
        raise AssertionError("the last try returns or raises")

    def preview(self, body: bytes, turn: Turn, caller: Caller) -> PlanPreview:
        """What a plan would be; nothing is kept.

        Raises:
            Refusal: with everything that is wrong with the request.
        """
        outcome = self._outcome(self._store(), self._decoder.decode(body), turn, caller)
        return PlanPreview(
            answer=outcome.draft.worked.answer,
            changes=outcome.changes,
            possible=outcome.possible,
            decided=outcome.possible or outcome.settled,
        )

    def _outcome(self, store: Store, asked: PlanRequest, turn: Turn, caller: Caller) -> Outcome:
        now = self._clock()
        expire_plans(store, asked.crib.site, now)
        draft = self._drafter.draft(asked, turn, now, caller.name)
        if draft.served or not asked.displace:
            return Outcome(draft=draft, free=draft, settled=draft.decided)
        found, decided = displace(self._drafter, store, draft, turn, now)
        settled = draft.decided and decided
        if found is None:
            return Outcome(draft=draft, free=draft, settled=settled)
        given_way = found.given_way
        return Outcome(draft=found.draft, free=draft, settled=settled, given_way=given_way)

    def _refusal(self, outcome: Outcome, turn: Turn) -> Refusal:
        """Why a plan is not kept: the search ended, others have the blocks, or there are none."""
        free = outcome.free
        unmet = (free.hopeless or free.worked.answer.unmet)[:_MOST_SAID]
        named = _quoted(each.target for each in unmet)
        if not outcome.settled:
            return Refusal(NOT_DECIDED, _UNDECIDED.format(named))
        if not free.taken:
            return _hopeless(free)
        # Where waiting took the time for that, what is known already is said.
        with suppress(BusyError):
            alone = self._alone.draft(free.asked, turn, self._clock(), free.plan.made_by)
            if alone.decided and not alone.enough:
                return _hopeless(alone)
        detail = f"No stack for {named} from the blocks that others leave free at that time."
        if outcome.left_without:
            detail += " " + _LEFT_WITHOUT
        return Refusal(BLOCKS_TAKEN, detail, taken=_taken(free))

    def _keep(self, store: Store, outcome: Outcome, key: Key | None) -> KeptAnswer:
        draft, now = outcome.draft, self._clock()
        query, stacks = draft.worked.reading.query, draft.worked.solved.answer.stacks
        promises = promises_for(query, stacks)
        details = write_details(draft.plan, promises, changes=outcome.changes)
        answer = KeptAnswer(
            status=CREATED,
            location=f"/v1/plans/{draft.plan.id}",
            body=JSON_TEXT.encode(details).decode(),
        )
        new = NewPlan(
            plan=draft.plan,
            promises=promises,
            versions=draft.versions,
            key=None if key is None else (key, answer),
        )
        why = f"gave way to plan {draft.plan.id}"
        changed = [each.changed(why, now) for each in outcome.given_way]
        keep_plan(store, new, changed, now=now)
        return answer

    def replan(self, name: str, asked: PlanAnew, caller: Caller) -> PlanDetails:
        """A plan with other stacks in place of those whose blocks failed.

        Raises:
            UnknownError: there is no such plan.
            StateError: it has ended.
            Refusal: 409, a stack cannot be planned anew; 422, there is no such block.
            TakenError: others were faster again and again.
        """
        store = self._store()
        _check_blocks(store, seen_plan(store, name).site_id, asked.blocks)
        for _ in range(_TRIES):
            plan, now = _planned(store, name), self._clock()
            anew = self._drafter.anew(plan, frozenset(asked.blocks), now, complete=True)
            if not asked.preview and not anew.done.whole:
                raise _cannot_be_replanned(anew)
            # Blocks may do as they are now, where only their figures are others than before.
            if asked.preview or not (anew.done.changes or _at_risk(store, plan)):
                return _details(store, plan, anew)
            try:
                changed = anew.changed(asked.reason, now)
                keep_change(store, changed, who=caller.name, now=now)
            except (TakenError, VersionError):
                continue
            return _details(store, _planned(store, name), anew)
        raise TakenError


def _details(store: Store, plan: StoredPlan, anew: Anew) -> PlanDetails:
    with store.reading() as connection:
        promises = promises_of(connection, plan.id)
        at_risk = risks_of(connection, [plan.id]).get(plan.id, ())
    changes = [write_change(plan, anew.done.changes)] if anew.done.changes else []
    return write_details(plan, promises, at_risk=at_risk, changes=changes)


def _check_blocks(store: Store, site: str, names: Sequence[str]) -> None:
    with store.reading() as connection:
        try:
            check_blocks(connection, site, names)
        except UnknownError as error:
            point_to_unknown(error, "block", listed(names, "/blocks"))
            raise


def _at_risk(store: Store, plan: StoredPlan) -> bool:
    with store.reading() as connection:
        return bool(risks_of(connection, [plan.id]))


def seen_plan(store: Store, name: str) -> StoredPlan:
    """A plan of a site that the caller may see.

    Raises:
        UnknownError: there is none.
    """
    with store.reading() as connection:
        plan = plan_of(connection, name)
    if not current_caller().sees(plan.site_id):
        raise UnknownError("plan", name)
    return plan


def _planned(store: Store, name: str) -> StoredPlan:
    plan = seen_plan(store, name)
    if plan.state != "planned":
        raise StateError(f"The plan {name!r} is {plan.state} already.")
    return plan


def _kept(store: Store, key: Key) -> KeptAnswer | None:
    with store.reading() as connection:
        return kept_answer(connection, key)


def _lost(draft: Draft) -> Refusal:
    detail = "Blocks that are needed were promised to other plans meanwhile, again and again."
    return Refusal(BLOCKS_TAKEN, detail, taken=_taken(draft))


def _taken(draft: Draft) -> tuple[TakenBlock, ...]:
    return tuple(map(write_taken, draft.taken[:_MOST_TAKEN]))


def _hopeless(draft: Draft) -> Refusal:
    return Refusal(NOT_ALL_SERVED, _why(draft, "en"), german=_why(draft, "de"))


def _why(draft: Draft, language: str) -> str:
    """Why targets have no stack, in the language of the problem and not of the request."""
    hopeless = [(each.target, each.role) for each in draft.hopeless[:_MOST_SAID]]
    unmet = unmet_in_words(draft.worked.solved, draft.worked.reading, language)
    return " ".join(
        _NO_STACK[language].format(_stack(each, language), each.detail)
        for each in unmet
        if (each.target, each.role) in hopeless
    )


def _stack(unmet: UnmetStack, language: str) -> str:
    role = f" ({role_in_words(unmet.role, language)})" if unmet.role else ""
    return f"{unmet.target!r}{role}"


def _quoted(targets: Iterable[str]) -> str:
    """Each once, in quotes: they are the words of whoever asks, and are not translated."""
    return ", ".join(map(repr, dict.fromkeys(targets)))


def _cannot_be_replanned(anew: Anew) -> Refusal:
    named = _quoted(each.name.target for each in anew.done.changes if each.after is None)
    if not anew.done.decided:
        return Refusal(NOT_DECIDED, _UNDECIDED.format(named))
    detail = f"No other stack for {named} from the blocks that are free at its time."
    return Refusal(NOT_ALL_SERVED, detail)
