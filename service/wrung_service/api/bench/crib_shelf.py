"""The shelf of a page that asks for the blocks of a site of the crib."""

from collections.abc import Mapping
from datetime import datetime
from functools import partial
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.lengths import Unit
from wrung.markings import engraved
from wrung_service.api.bench.question import Question
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import current_caller
from wrung_service.api.crib_pages.moments import calendar_of
from wrung_service.api.page_words import said_in
from wrung_service.api.shelf.asking import Crib
from wrung_service.store.blocks import Condition
from wrung_service.store.engine import Store
from wrung_service.usecases.look_at_shelf import ShelfSeen, look_at_shelf
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.usecases.shelf.conditions import ConditionChange, change_conditions


class CribShelf(Struct, frozen=True, kw_only=True):
    """What a page shows of it.

    Attributes:
        reports: whether who looks may report a block.
    """

    seen: ShelfSeen
    reports: bool
    now: datetime

    def figures(self, decimal_mark: str) -> Mapping[str, str]:
        """Of the blocks that were marked, by id."""
        held = (each.block for each in self.seen.blocks.values())
        return {block.id: engraved(block.nominal, block.unit, decimal_mark) for block in held}

    def missing_since(self, block: str, language: str) -> str:
        """When the crib lost a block; empty if it did not."""
        held = self.seen.blocks[block]
        if held.condition != "missing":
            return ""
        calendar = calendar_of(self.seen.site.time_zone, self.now, said_in("crib", language))
        return calendar.moment(held.condition_since)


async def crib_shelf(
    request: HttpRequest, crib: Crib, question: Question
) -> tuple[Question, CribShelf]:
    """The shelf, and the question without sets and blocks that the site does not have.

    Raises:
        UnknownError: there is no such site.
        BusyError: the store was not reached in time.
    """
    seen = await crib.door.run(
        request, partial(look_at_shelf, site=question.site, names=question.gone)
    )
    named: dict[str, Unit] = {each.id: each.unit for each in seen.sets}
    cases = tuple(each for each in question.cases if each in named)
    known = replace(
        question,
        cases=cases,
        gone=tuple(each for each in question.gone if each in seen.blocks),
        unit=question.unit if "unit" in request.query_params else _unit(named, cases),
    )
    may_report = "crib" in current_caller().scopes
    return known, CribShelf(seen=seen, reports=may_report, now=crib.clock())


def _unit(named: Mapping[str, Unit], cases: tuple[str, ...]) -> Unit:
    first = next(iter((*cases, *named)), None)
    return "mm" if first is None else named[first]


_BECOMES: Final[Mapping[Condition, Condition]] = {"fit": "missing", "missing": "fit"}


def report(store: Store, site: str, block: str, by: Acting, *, reason: str | None) -> None:
    """A block that was thought to be there is missing; without a reason, it is found again.

    A block in any other condition stays in it: whoever knows that it is worn knows more.

    Raises:
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    held = look_at_shelf(store, site, [block]).blocks.get(block)
    condition: Condition = "fit" if reason is None else "missing"
    if held is not None and _BECOMES.get(held.condition) == condition:
        change = ConditionChange(block=block, condition=condition, reason=reason)
        change_conditions(store, site, [change], by)
