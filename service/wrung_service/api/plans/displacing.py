"""Let less urgent plans give way to an urgent one, as few as can be found."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Final

from msgspec import Struct

from wrung_service.api.plans.drafting import Anew, Draft, Drafter
from wrung_service.pool import Turn
from wrung_service.store.engine import Store
from wrung_service.store.plans import plan_of
from wrung_service.store.promises import plans_with_blocks_out
from wrung_service.usecases.crib_shelf import Taken
from wrung_service.usecases.promised import promises_for

_LEAST: Final = 100
"""Behind every priority that there is."""
_MOST_ALONE: Final = 20
"""Plans that are tried one by one before several have to give way."""


class Displacing(Struct, frozen=True, kw_only=True):
    """An urgent plan, and the plans that give way to it, each planned anew."""

    draft: Draft
    given_way: tuple[Anew, ...]

    @property
    def whole(self) -> bool:
        """Whether nobody is left without a stack."""
        return all(each.done.whole for each in self.given_way)


def displace(
    drafter: Drafter, store: Store, draft: Draft, turn: Turn, now: datetime
) -> tuple[Displacing | None, bool]:
    """The urgent plan with the blocks of others, where those that are free do not do.

    One plan that gives way is better than several, and one that is planned anew better than one
    that is left without; None if even all less urgent plans together do not do. And whether that is
    settled, or the time ended before a better one was ruled out.
    """
    best, decided = None, True
    for plans in _choices(draft, store):
        if turn.over:
            return best, False
        asked, who = draft.asked, draft.plan.made_by
        urgent = drafter.draft(asked, turn, now, who, beside=frozenset(plans))
        decided = decided and urgent.decided
        if not urgent.served:
            continue
        found = _give_way(drafter, store, urgent, plans, now)
        if found.whole:
            return found, True
        decided = decided and all(each.done.decided for each in found.given_way)
        best = best or found
    return best, decided


def _choices(draft: Draft, store: Store) -> Iterator[Sequence[str]]:
    """Plans that might give way: each alone, the least urgent first, then more and more."""
    urgent = draft.plan.priority or _LEAST
    with store.reading() as connection:
        out = plans_with_blocks_out(connection, draft.plan.site_id)
    less = {
        each.plan: each.priority or _LEAST
        for each in draft.taken
        if each.plan and each.plan not in out and (each.priority or _LEAST) > urgent
    }
    names = sorted(less, key=lambda name: (-less[name], name))
    yield from ([name] for name in names[:_MOST_ALONE])
    for several in sorted({2, 4, 8, len(names)}):
        if 1 < several <= len(names):
            yield names[:several]


def _give_way(
    drafter: Drafter, store: Store, urgent: Draft, plans: Sequence[str], now: datetime
) -> Displacing:
    """Each of the plans that loses a block is planned anew, the most urgent first."""
    query = urgent.worked.reading.query
    wanted = promises_for(query, urgent.worked.solved.answer.stacks)
    taken = [
        Taken(block=p.block, plan=urgent.plan.id, starts_at=p.starts_at, ends_at=p.ends_at)
        for p in wanted
    ]
    given: list[Anew] = []
    with store.reading() as connection:
        losing = [plan_of(connection, name) for name in reversed(plans)]
    for plan in losing:
        # Its own promises do not count, so a stack stays unless the urgent plan takes its blocks.
        anew = drafter.anew(plan, frozenset(), now, taken)
        if anew.done.changes:
            given.append(anew)
            taken.extend(anew.taken())
    return Displacing(draft=urgent, given_way=tuple(given))
