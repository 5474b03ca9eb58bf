"""``/v1/sites/{site_id}/issues``, ``returns``, ``condition-changes``, ``loans``, ``risks``."""

from collections.abc import Sequence
from datetime import datetime

from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler

from wrung.names import repeats
from wrung_service.api.bodies import JSON, HttpRequest, read_document
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.faults import Faults
from wrung_service.api.loans.operations import CONDITION, ISSUE, LOANS, RETURN, RISKS
from wrung_service.api.loans.shapes import (
    BlockIssue,
    BlockReturn,
    ChangedBlocks,
    ConditionOfBlocks,
    IssuedBlocks,
    LoanList,
    RiskList,
    write_changed,
    write_loan,
)
from wrung_service.api.operations import OPERATION
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.responses import ASK_EACH_TIME, respond, respond_table
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.filters import text_in, truth_in
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.paging import numbered_place_of, respond_page
from wrung_service.api.shelf.risks import write_risks
from wrung_service.api.stacks.times import read_time
from wrung_service.api.unknown import listed, point_to_unknown
from wrung_service.store.engine import Reading, Store
from wrung_service.store.errors import UnknownError
from wrung_service.store.loans import Loan, LoanFilter, list_loans
from wrung_service.store.pages import Page
from wrung_service.store.risks import Risk, open_risks
from wrung_service.store.sites import get_site
from wrung_service.usecases.loans.issue import Issue, issue_blocks
from wrung_service.usecases.loans.take_back import Return, take_back
from wrung_service.usecases.shelf.conditions import Changed, ConditionChange, change_conditions


def loan_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """All of them."""
    return [*_changing(crib), *_reading(crib)]


def _changing(crib: Crib) -> list[HTTPRouteHandler]:
    most = crib.limits.max_body_bytes
    issues = BodyDecoder(BlockIssue, {}, most)
    returns = BodyDecoder(BlockReturn, {}, most)
    conditions = BodyDecoder(ConditionOfBlocks, {}, most)

    @post("/v1/sites/{site_id:str}/issues", status_code=200, opt={OPERATION: ISSUE})
    async def issue(request: HttpRequest) -> Response[bytes]:
        site, by = site_of(request, SITE), crib.acting(request)
        body = await read_document(request, (JSON,))

        def work(store: Store) -> tuple[Loan, ...]:
            wanted = read_issue(issues.decode(body), by.at)
            try:
                return issue_blocks(store, site, wanted, by)
            except UnknownError as error:
                point_to_unknown(error, "block", listed(wanted.blocks, "/blocks"))
                point_to_unknown(error, "plan", [(wanted.plan or "", "/plan")])
                raise

        loans = await crib.door.run(request, work)
        return respond(IssuedBlocks(loans=tuple(write_loan(each) for each in loans)))

    @post("/v1/sites/{site_id:str}/returns", status_code=200, opt={OPERATION: RETURN})
    async def give_back(request: HttpRequest) -> Response[bytes]:
        site, by = site_of(request, SITE), crib.acting(request)
        body = await read_document(request, (JSON,))

        def work(store: Store) -> Changed:
            sent = returns.decode(body).blocks
            names = [each.id for each in sent]
            places = listed(names, "/blocks", "/id")
            _check_once(places)
            wanted = [
                Return(block=each.id, condition=each.condition, reason=each.reason) for each in sent
            ]
            try:
                return take_back(store, site, wanted, by)
            except UnknownError as error:
                point_to_unknown(error, "block", places)
                raise

        return respond(write_changed(await crib.door.run(request, work), crib.prefix))

    @post("/v1/sites/{site_id:str}/condition-changes", status_code=200, opt={OPERATION: CONDITION})
    async def change(request: HttpRequest) -> Response[bytes]:
        site, by = site_of(request, SITE), crib.acting(request)
        body = await read_document(request, (JSON,))

        def work(store: Store) -> ChangedBlocks:
            sent = conditions.decode(body)
            places = listed(sent.blocks, "/blocks")
            _check_once(places)
            wanted = [
                ConditionChange(block=name, condition=sent.condition, reason=sent.reason)
                for name in sent.blocks
            ]
            try:
                return write_changed(change_conditions(store, site, wanted, by), crib.prefix)
            except UnknownError as error:
                point_to_unknown(error, "block", places)
                raise

        return respond(await crib.door.run(request, work))

    return [issue, give_back, change]


def _reading(crib: Crib) -> list[HTTPRouteHandler]:
    @get("/v1/sites/{site_id:str}/loans", opt={OPERATION: LOANS})
    async def loans(request: HttpRequest) -> Response[bytes]:
        site, place = site_of(request, SITE), numbered_place_of(request)
        wanted = LoanFilter(
            block=text_in(request, "block", 128),
            plan=text_in(request, "plan", 128),
            out=truth_in(request, "out"),
            late_at=crib.clock() if truth_in(request, "late") else None,
        )

        def work(connection: Reading) -> Page[Loan]:
            get_site(connection, site)
            return list_loans(connection, site, wanted, place)

        page = await crib.door.read(request, work)
        body = LoanList(loans=tuple(write_loan(each) for each in page.items), next=page.last)
        return respond_page(request, body, crib.prefix)

    @get("/v1/sites/{site_id:str}/risks", opt={OPERATION: RISKS})
    async def risks(request: HttpRequest) -> Response[bytes]:
        site = site_of(request, SITE)

        def work(connection: Reading) -> tuple[Risk, ...]:
            get_site(connection, site)
            return open_risks(connection, site)

        found = await crib.door.read(request, work)
        body = RiskList(at_risk=write_risks(found, crib.prefix))
        return respond_table(request, body, keep=ASK_EACH_TIME)

    return [loans, risks]


def read_issue(sent: BlockIssue, now: datetime) -> Issue:
    """What goes out.

    Raises:
        Refusal: a block twice, or a time that is none or is over.
    """
    faults = Faults()
    _note_repeats(listed(sent.blocks, "/blocks"), faults)
    due_at = read_time(sent.due_at, ("due_at",), faults)
    if due_at is not None and due_at <= now:
        faults.meaningless("/due_at", "lies before now")
    refuse_if_any(faults)
    return Issue(
        blocks=sent.blocks,
        plan=sent.plan,
        borrower=sent.borrower,
        due_at=due_at,
        note=sent.note,
    )


def _check_once(places: Sequence[tuple[str, str]]) -> None:
    faults = Faults()
    _note_repeats(places, faults)
    refuse_if_any(faults)


def _note_repeats(places: Sequence[tuple[str, str]], faults: Faults) -> None:
    for name, at in (places[k] for k in repeats(name for name, _ in places)):
        faults.meaningless(at, f"the id {name!r} is named twice")
