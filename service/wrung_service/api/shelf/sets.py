"""Sets of a site: ``/v1/sites/{site_id}/sets``."""

from typing import Final

from litestar import Response, get, put
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import JSON, HttpRequest, read_document
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.operations import OPERATION, AnswerLink, Operation, example
from wrung_service.api.problem_types import (
    BODY_PROBLEMS,
    INVALID_PARAMETER,
    NOT_FOUND,
    STORE_PROBLEMS,
    VERSION_PROBLEMS,
)
from wrung_service.api.shelf.asking import Crib, id_of, site_of
from wrung_service.api.shelf.ids import SET, SITE
from wrung_service.api.shelf.paging import OF_PAGE, PAGING, place_of, respond_page
from wrung_service.api.shelf.set_reading import read_new_set
from wrung_service.api.shelf.set_shape import CribSet, NewSet, SetList, write_set
from wrung_service.api.shelf.versions import (
    ETAG,
    IF_ABSENT,
    IF_CHANGED,
    IF_MATCH,
    MADE_AT,
    respond_kept,
    respond_version,
)
from wrung_service.store.engine import Reading, Store
from wrung_service.store.pages import Page
from wrung_service.store.sets import StoredSet, get_set, list_sets
from wrung_service.store.sites import get_site
from wrung_service.usecases.shelf.keep_set import SetChange, keep_set

_OF_SITE: Final = {"site_id": "$request.path.site_id"}
_AFTER: Final = {
    "self": AnswerLink(
        operation="getSet",
        description="The set.",
        parameters={**_OF_SITE, "set_id": "$response.body#/id"},
    ),
    "blocks": AnswerLink(
        operation="listBlocks",
        description="Its blocks.",
        parameters={**_OF_SITE, "set": "$response.body#/id"},
    ),
}
_PUT: Final = Operation(
    id="putSet",
    tag="crib",
    summary="Make or change a set",
    description="A set of a composition is made with all its blocks in one request; blocks that it "
    "lacks are `missing`. Any other is made of `blocks`. Blocks that the crib has already stay as "
    "they are: change them one by one, or by an import. The same request may be sent again: it "
    "changes nothing then. To change a set that is there, send its ETag as If-Match.",
    body=NewSet,
    body_examples={
        "composition": example("A set of 122 without one block", "set-request"),
        "free": example("Two blocks put together freely", "set-free-request"),
    },
    answer=CribSet,
    answer_examples={"set": example("The set", "set")},
    parameters=(SITE, SET),
    headers=(IF_MATCH, IF_ABSENT),
    answer_headers=MADE_AT,
    made=True,
    scope="crib",
    links=_AFTER,
    problems=(NOT_FOUND, *BODY_PROBLEMS, *VERSION_PROBLEMS, *STORE_PROBLEMS),
)
_GET: Final = Operation(
    id="getSet",
    tag="crib",
    summary="Get a set",
    description="What is said of it as a whole; `GET /v1/sites/{site_id}/blocks?set=` has its "
    "blocks.",
    answer=CribSet,
    answer_examples={"set": example("The set", "set")},
    parameters=(SITE, SET),
    headers=(IF_CHANGED,),
    answer_headers=ETAG,
    links={"blocks": _AFTER["blocks"]},
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
_LIST: Final = Operation(
    id="listSets",
    tag="crib",
    summary="List the sets of a site",
    description="By id.",
    answer=SetList,
    answer_examples={"sets": example("One set", "sets")},
    parameters=(SITE,),
    query=PAGING,
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
    problems=(NOT_FOUND, INVALID_PARAMETER, *STORE_PROBLEMS),
)


def set_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """The list and each of its members."""
    decoder = BodyDecoder(NewSet, {}, crib.limits.max_body_bytes)

    @put("/v1/sites/{site_id:str}/sets/{set_id:str}", opt={OPERATION: _PUT})
    async def put_set(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, SET)
        by = crib.acting(request)
        body = await read_document(request, (JSON,))

        def work(store: Store) -> SetChange:
            wanted, blocks = read_new_set(name, decoder.decode(body), by.at)
            return keep_set(store, site, wanted, blocks, by)

        change = await crib.door.run(request, work)
        location = f"{crib.prefix}/v1/sites/{site}/sets/{name}"
        kept, made = change.after, change.before is None
        return respond_kept(write_set(kept), kept.version, location, made=made)

    @get("/v1/sites/{site_id:str}/sets/{set_id:str}", opt={OPERATION: _GET})
    async def get_one_set(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, SET)

        found = await crib.door.read(request, lambda connection: get_set(connection, site, name))
        return respond_version(request, write_set(found), found.version)

    @get("/v1/sites/{site_id:str}/sets", opt={OPERATION: _LIST})
    async def list_all_sets(request: HttpRequest) -> Response[bytes]:
        site, place = site_of(request, SITE), place_of(request)

        def work(connection: Reading) -> Page[StoredSet]:
            get_site(connection, site)
            return list_sets(connection, site, place)

        page = await crib.door.read(request, work)
        body = SetList(sets=tuple(write_set(each) for each in page.items), next=page.last)
        return respond_page(request, body, crib.prefix)

    return [put_set, get_one_set, list_all_sets]
