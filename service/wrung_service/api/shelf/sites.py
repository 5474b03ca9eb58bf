"""Sites: ``/v1/sites``."""

from typing import Annotated, Final
from zoneinfo import ZoneInfo

from litestar import Response, get, put
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta, Struct
from msgspec.structs import asdict

from wrung_service.api.bodies import JSON, HttpRequest, read_document
from wrung_service.api.callers import current_caller
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.faults import Faults
from wrung_service.api.operations import OPERATION, AnswerLink, Operation, example
from wrung_service.api.problem_types import (
    BODY_PROBLEMS,
    INVALID_PARAMETER,
    NOT_FOUND,
    STORE_PROBLEMS,
    VERSION_PROBLEMS,
)
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.paging import OF_PAGE, PAGING, NextPage, place_of, respond_page
from wrung_service.api.shelf.risks import PlanAtRisk, write_risks
from wrung_service.api.shelf.versions import (
    ETAG,
    IF_ABSENT,
    IF_CHANGED,
    IF_MATCH,
    MADE_AT,
    respond_kept,
    respond_version,
)
from wrung_service.api.texts import BlockId, Moment, Name
from wrung_service.store.engine import Store
from wrung_service.store.sites import Site, get_site, list_sites
from wrung_service.usecases.shelf.keep_site import KeptSite, keep_site


class SiteMembers(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What is said of a site."""

    name: Annotated[BlockId, Meta(description="What people call it.")]
    time_zone: Annotated[
        Name,
        Meta(
            description="IANA name of its time zone, such as `Europe/Berlin`; a due date ends at "
            "midnight there."
        ),
    ]


class CribSite(Struct, frozen=True, kw_only=True):
    """A site: a shop, or a part of it, with a crib of its own."""

    id: Annotated[str, Meta(description="Its id.")]
    name: Annotated[str, Meta(description="What people call it.")]
    time_zone: Annotated[str, Meta(description="IANA name of its time zone.")]
    made_at: Annotated[Moment, Meta(description="When it was made.")]
    version: Annotated[int, Meta(description="Counts its changes; the ETag has it.")]


class PutSite(CribSite, frozen=True, kw_only=True):
    """A site as it is now, and what that means for plans."""

    at_risk: Annotated[
        tuple[PlanAtRisk, ...],
        Meta(
            description="Plans of which a block is due for calibration before they need it; "
            "another time zone can do that."
        ),
    ]


class SiteList(Struct, frozen=True, kw_only=True):
    """A page of the sites that the caller may see."""

    sites: Annotated[tuple[CribSite, ...], Meta(description="By id.")]
    next: NextPage


_AFTER: Final = {
    "blocks": AnswerLink(
        operation="listBlocks",
        description="What it has.",
        parameters={"site_id": "$response.body#/id"},
    ),
    "set": AnswerLink(
        operation="putSet",
        description="Put a set into it.",
        parameters={"site_id": "$response.body#/id"},
    ),
}
_PUT: Final = Operation(
    id="putSite",
    tag="crib",
    summary="Make or change a site",
    description="The client chooses its id. The same request may be sent again: it changes nothing "
    "then. To change a site that is there, send its ETag as If-Match.",
    body=SiteMembers,
    body_examples={"site": example("A hall in Germany", "site-request")},
    answer=PutSite,
    answer_examples={"site": example("The site, with no plan at risk", "site-put")},
    parameters=(SITE,),
    headers=(IF_MATCH, IF_ABSENT),
    answer_headers=MADE_AT,
    made=True,
    scope="admin",
    links=_AFTER,
    problems=(NOT_FOUND, *BODY_PROBLEMS, *VERSION_PROBLEMS, *STORE_PROBLEMS),
)
_GET: Final = Operation(
    id="getSite",
    tag="crib",
    summary="Get a site",
    description="One site.",
    answer=CribSite,
    answer_examples={"site": example("The site", "site")},
    parameters=(SITE,),
    headers=(IF_CHANGED,),
    answer_headers=ETAG,
    links=_AFTER,
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
_LIST: Final = Operation(
    id="listSites",
    tag="crib",
    summary="List the sites",
    description="Those that the caller may see, by id.",
    answer=SiteList,
    answer_examples={"sites": example("One site", "sites")},
    query=PAGING,
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
    problems=(INVALID_PARAMETER, *STORE_PROBLEMS),
)


def site_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """The list and each of its members."""
    decoder = BodyDecoder(SiteMembers, {}, crib.limits.max_body_bytes)

    @put("/v1/sites/{site_id:str}", opt={OPERATION: _PUT})
    async def put_site(request: HttpRequest) -> Response[bytes]:
        name, by = site_of(request, SITE), crib.acting(request)
        body = await read_document(request, (JSON,))

        def work(store: Store) -> KeptSite:
            members = decoder.decode(body)
            _check_zone(members)
            wanted = Site(id=name, name=members.name, time_zone=members.time_zone, made_at=by.at)
            return keep_site(store, wanted, by)

        done = await crib.door.run(request, work)
        location = f"{crib.prefix}/v1/sites/{name}"
        risks = write_risks(done.at_risk, crib.prefix)
        answer = PutSite(**asdict(_site(done.site)), at_risk=risks)
        return respond_kept(answer, done.site.version, location, made=done.made)

    @get("/v1/sites/{site_id:str}", opt={OPERATION: _GET})
    async def get_one_site(request: HttpRequest) -> Response[bytes]:
        name = site_of(request, SITE)

        found = await crib.door.read(request, lambda connection: get_site(connection, name))
        return respond_version(request, _site(found), found.version)

    @get("/v1/sites", opt={OPERATION: _LIST})
    async def list_all_sites(request: HttpRequest) -> Response[bytes]:
        place, within = place_of(request), current_caller().sites

        page = await crib.door.read(
            request, lambda connection: list_sites(connection, place, within)
        )
        body = SiteList(sites=tuple(_site(each) for each in page.items), next=page.last)
        return respond_page(request, body, crib.prefix)

    return [put_site, get_one_site, list_all_sites]


def _check_zone(members: SiteMembers) -> None:
    faults = Faults()
    try:
        ZoneInfo(members.time_zone)
    # Of a folder of zones, or of a path out of them, the errors are others.
    except (OSError, ValueError, LookupError):
        faults.meaningless("/time_zone", f"{members.time_zone!r} is no IANA time zone")
    refuse_if_any(faults)


def _site(kept: Site) -> CribSite:
    return CribSite(
        id=kept.id,
        name=kept.name,
        time_zone=kept.time_zone,
        made_at=kept.made_at,
        version=kept.version,
    )
