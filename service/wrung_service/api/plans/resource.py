"""``/v1/plans``: blocks promised to jobs, from the first request to the end of the plan."""

from typing import Final

import msgspec
from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler
from litestar.params import FromPath

from wrung_service.api.bodies import JSON, HttpRequest, read_document
from wrung_service.api.callers import current_caller
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.operations import OPERATION
from wrung_service.api.plans.answer import PlanDetails, PlanList
from wrung_service.api.plans.operations import END, LIST, MAKE, ONE, PREVIEW, REPLAN
from wrung_service.api.plans.parameters import key_of, read_filter
from wrung_service.api.plans.request import PlanAnew, PlanEnd
from wrung_service.api.plans.work import CREATED, PlanWork, seen_plan
from wrung_service.api.plans.writing import write_details, write_summary
from wrung_service.api.responses import ASK_EACH_TIME, respond, respond_table
from wrung_service.api.shelf.asking import Clock, Crib
from wrung_service.api.shelf.paging import respond_page, timed_cursor
from wrung_service.api.working import Form, answer_in_pool
from wrung_service.pool import SolvePool, Turn
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnknownError
from wrung_service.store.idempotency import KeptAnswer
from wrung_service.store.plans import PlanFilter, plans_of, risks_of
from wrung_service.store.promises import promises_of
from wrung_service.store.shelves import time_zone_of
from wrung_service.usecases.keep_plans import expire_plans, finish_plan

_AS_KEPT: Final = Form(media_type=JSON, encode=lambda kept: kept.body.encode())


def plan_routes(pool: SolvePool, crib: Crib, plans: PlanWork) -> list[HTTPRouteHandler]:
    """Making, reading, ending and planning anew."""
    limits, clock, door = crib.limits, crib.clock, crib.door
    ends, anews = BodyDecoder(PlanEnd, {}), BodyDecoder(PlanAnew, {})

    @post("/v1/plans", status_code=CREATED, opt={OPERATION: MAKE})
    async def make_plan(request: HttpRequest) -> Response[bytes]:
        caller, kept = current_caller(), list[KeptAnswer]()

        def work(body: bytes, turn: Turn) -> KeptAnswer:
            kept.append(plans.make(body, turn, caller, key_of(request, caller, body)))
            return kept[0]

        response = await answer_in_pool(request, work, pool=pool, limits=limits, form=_AS_KEPT)
        response.status_code = kept[0].status
        response.headers["Location"] = f"{crib.prefix}{kept[0].location}"
        return response

    @post("/v1/plan-previews", status_code=200, opt={OPERATION: PREVIEW})
    async def preview_plan(request: HttpRequest) -> Response[bytes]:
        caller = current_caller()
        return await answer_in_pool(
            request, lambda body, turn: plans.preview(body, turn, caller), pool=pool, limits=limits
        )

    @get("/v1/plans", opt={OPERATION: LIST})
    async def list_plans(request: HttpRequest) -> Response[bytes]:
        wanted = read_filter(request)
        page = await door.run(request, lambda store: _page(store, wanted, clock))
        return respond_page(request, page, crib.prefix)

    @get("/v1/plans/{plan_id:str}", opt={OPERATION: ONE})
    async def get_plan(request: HttpRequest, plan_id: FromPath[str]) -> Response[bytes]:
        details = await door.run(request, lambda store: _details(store, plan_id))
        return respond_table(request, details, keep=ASK_EACH_TIME)

    @post("/v1/plans/{plan_id:str}/end", status_code=200, opt={OPERATION: END})
    async def end_plan(request: HttpRequest, plan_id: FromPath[str]) -> Response[bytes]:
        body, who = await read_document(request, (JSON,)), current_caller().name

        def work(store: Store) -> PlanDetails:
            asked = ends.decode(body)
            seen_plan(store, plan_id)
            finish_plan(store, plan_id, asked.state, who=who, why=asked.reason, now=clock())
            return _details(store, plan_id)

        return respond(await door.run(request, work))

    @post("/v1/plans/{plan_id:str}/replan", status_code=200, opt={OPERATION: REPLAN})
    async def replan_plan(request: HttpRequest, plan_id: FromPath[str]) -> Response[bytes]:
        caller = current_caller()

        def work(body: bytes, _: Turn) -> PlanDetails:
            return plans.replan(plan_id, anews.decode(body), caller)

        return await answer_in_pool(request, work, pool=pool, limits=limits)

    return [make_plan, preview_plan, list_plans, get_plan, end_plan, replan_plan]


def _page(store: Store, wanted: PlanFilter, clock: Clock) -> PlanList:
    if not current_caller().sees(wanted.site):
        raise UnknownError("site", wanted.site)
    # One more than asked for tells whether there is another page.
    more = msgspec.structs.replace(wanted, limit=wanted.limit + 1)
    expire_plans(store, wanted.site, clock())
    with store.reading() as connection:
        # An unknown site has no plans, but that would hide a slip of the pen.
        time_zone_of(connection, wanted.site)
        found = plans_of(connection, more)
        shown = found[: wanted.limit]
        risks = risks_of(connection, [each.id for each in shown])
    return PlanList(
        plans=tuple(write_summary(each, risks.get(each.id, ())) for each in shown),
        next=timed_cursor(shown[-1].starts_at, shown[-1].id) if len(found) > wanted.limit else None,
    )


def _details(store: Store, name: str) -> PlanDetails:
    plan = seen_plan(store, name)
    with store.reading() as connection:
        promises = promises_of(connection, name)
        at_risk = risks_of(connection, [name]).get(name, ())
    return write_details(plan, promises, at_risk=at_risk)
