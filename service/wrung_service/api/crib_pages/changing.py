"""What people do on pages of the crib: blocks go out, come back, are found, or are not fit."""

from typing import Any, Final
from urllib.parse import quote, urlencode

from litestar import Response, post
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.crib_pages.forms import Form, as_body, sent_form
from wrung_service.api.crib_pages.moments import moment_of_clock
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.failures import Handlers
from wrung_service.api.faults import Faults
from wrung_service.api.loans.resource import read_issue
from wrung_service.api.loans.shapes import BlockIssue, BlockReturn, ConditionOfBlocks
from wrung_service.api.operations import PAGE, PAGE_SCOPE
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.ids import SITE
from wrung_service.store.engine import Store
from wrung_service.store.loans import Loan
from wrung_service.store.sites import get_site
from wrung_service.usecases.loans.issue import issue_blocks
from wrung_service.usecases.loans.take_back import Return, take_back
from wrung_service.usecases.shelf.conditions import Changed, ConditionChange, change_conditions

_CRIB = {PAGE: True, PAGE_SCOPE: "crib"}
_NO_BLOCK: Final = "scan or type one first"
_NO_TIME: Final = "must be a time such as 2027-06-01 14:30, the year first"


def changing(crib: Crib, pages: Pages, failures: Handlers) -> list[HTTPRouteHandler]:
    """All forms; each leads back to where it was sent from."""

    @post("/crib/{site_id:str}/issues", opt=_CRIB, status_code=303, exception_handlers=failures)
    async def give_out(request: HttpRequest) -> Response[Any]:
        site, by, form = site_of(request, SITE), crib.acting(request), await sent_form(request)

        def work(store: Store) -> tuple[Loan, ...]:
            with store.reading() as connection:
                zone = get_site(connection, site).time_zone
            return issue_blocks(store, site, read_issue(_issue(form, zone), by.at), by)

        await crib.door.run(request, work)
        return pages.lead(_back(site, form))

    @post("/crib/{site_id:str}/returns", opt=_CRIB, status_code=303, exception_handlers=failures)
    async def give_back(request: HttpRequest) -> Response[Any]:
        site, by, form = site_of(request, SITE), crib.acting(request), await sent_form(request)
        sent = as_body({"blocks": [{"id": each} for each in form.all("block")]}, BlockReturn)
        wanted = [Return(block=name) for name in dict.fromkeys(each.id for each in sent.blocks)]

        def work(store: Store) -> Changed:
            return take_back(store, site, wanted, by)

        await crib.door.run(request, work)
        return pages.lead(_back(site, form))

    @post(
        "/crib/{site_id:str}/condition-changes",
        opt=_CRIB,
        status_code=303,
        exception_handlers=failures,
    )
    async def change(request: HttpRequest) -> Response[Any]:
        site, by, form = site_of(request, SITE), crib.acting(request), await sent_form(request)
        members = {"blocks": form.all("block"), "condition": form.one("condition")}
        sent = as_body({**members, "reason": form.one("reason").strip() or None}, ConditionOfBlocks)
        wanted = [
            ConditionChange(block=each, condition=sent.condition, reason=sent.reason)
            for each in dict.fromkeys(sent.blocks)
        ]

        def work(store: Store) -> Changed:
            return change_conditions(store, site, wanted, by)

        await crib.door.run(request, work)
        return pages.lead(_back(site, form))

    return [give_out, give_back, change]


def _issue(form: Form, zone: str) -> BlockIssue:
    """The blocks that were scanned or typed, with spaces or lines between them."""
    due_at, borrower = form.one("due_at"), form.one("borrower").strip()
    members: dict[str, Any] = {"blocks": " ".join(form.all("block")).split()}
    faults = Faults()
    if not members["blocks"]:
        faults.invalid(("blocks",), _NO_BLOCK)
    if borrower:
        members["borrower"] = borrower
    if due_at:
        try:
            members["due_at"] = moment_of_clock(due_at, zone).isoformat()
        except ValueError:
            faults.invalid(("due_at",), _NO_TIME)
    refuse_if_any(faults)
    return as_body(members, BlockIssue)


def _back(site: str, form: Form) -> str:
    """To the set that was looked into, or to the block that was."""
    if form.one("page") == "block":
        return f"/crib/{site}/blocks/{quote(form.all('block')[0])}"
    chosen = [("set", form.one("set"))] if form.one("set") else []
    return f"/crib/{site}?{urlencode(chosen)}" if chosen else f"/crib/{site}"
