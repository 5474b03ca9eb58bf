"""Blocks of a site: ``/v1/sites/{site_id}/blocks``."""

from typing import Annotated, Final
from urllib.parse import quote

from litestar import Response, get, put
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta
from msgspec.structs import asdict

from wrung.names import or_nearest
from wrung_service.api.bodies import JSON, HttpRequest, read_document
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.faults import Faults
from wrung_service.api.operations import OPERATION, AnswerLink, Operation, example
from wrung_service.api.problem_types import (
    BODY_PROBLEMS,
    CONFLICT,
    INVALID_PARAMETER,
    NOT_FOUND,
    STORE_PROBLEMS,
    UNPROCESSABLE_CONTENT,
    VERSION_PROBLEMS,
)
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.shelf.asking import Crib, id_of, site_of
from wrung_service.api.shelf.block_answer import BlockList, CribBlock, write_block
from wrung_service.api.shelf.block_body import BlockMembers, Shared, read_one
from wrung_service.api.shelf.filters import FILTERS, asked_blocks
from wrung_service.api.shelf.ids import BLOCK, SITE
from wrung_service.api.shelf.paging import OF_PAGE, PAGING, place_of, respond_page
from wrung_service.api.shelf.risks import AT_RISK, PlanAtRisk, write_risks
from wrung_service.api.shelf.versions import (
    ETAG,
    IF_ABSENT,
    IF_CHANGED,
    IF_MATCH,
    MADE_AT,
    respond_kept,
    respond_version,
)
from wrung_service.store.blocks import KeptBlock, get_block, list_blocks
from wrung_service.store.engine import Reading, Store
from wrung_service.store.pages import Page
from wrung_service.store.sites import get_site
from wrung_service.usecases.shelf.keep_block import BlockKept, NoSuchSetError, keep_block
from wrung_service.usecases.shelf.write_blocks import WantedBlock


class PutBlock(CribBlock, frozen=True, kw_only=True):
    """A block as it is now, and what that means for plans."""

    at_risk: Annotated[tuple[PlanAtRisk, ...], Meta(description=AT_RISK)]


_SELF: Final = {
    "self": AnswerLink(
        operation="getBlock",
        description="The block.",
        parameters={"site_id": "$request.path.site_id", "block_id": "$response.body#/id"},
    )
}
_PUT: Final = Operation(
    id="putBlock",
    tag="crib",
    summary="Make or change a block",
    description="The body says everything that is to be known of the block; what it leaves out is "
    "unknown afterwards, but for `condition`, `uses` and `minutes_out`, which stay. A block's "
    "nominal length never changes. The same request may be sent again: it changes nothing then. To "
    "change a block that is there, send its ETag as If-Match.",
    body=BlockMembers,
    body_examples={"block": example("A certified block", "block-request")},
    answer=PutBlock,
    answer_examples={"block": example("The block, which no plan counts on", "block-put")},
    parameters=(SITE, BLOCK),
    headers=(IF_MATCH, IF_ABSENT),
    answer_headers=MADE_AT,
    made=True,
    scope="crib",
    links=_SELF,
    problems=(NOT_FOUND, CONFLICT, *BODY_PROBLEMS, *VERSION_PROBLEMS, *STORE_PROBLEMS),
)
_GET: Final = Operation(
    id="getBlock",
    tag="crib",
    summary="Get a block",
    description="Everything that the crib knows of it.",
    answer=CribBlock,
    answer_examples={"block": example("The block", "block")},
    parameters=(SITE, BLOCK),
    headers=(IF_CHANGED,),
    answer_headers=ETAG,
    problems=(NOT_FOUND, *STORE_PROBLEMS),
)
_LIST: Final = Operation(
    id="listBlocks",
    tag="crib",
    summary="List the blocks of a site",
    description="By id; several parameters must all hold.",
    answer=BlockList,
    answer_examples={"blocks": example("One block", "blocks")},
    parameters=(SITE,),
    query=(*FILTERS, *PAGING),
    headers=(IF_CHANGED,),
    answer_headers=OF_PAGE,
    problems=(NOT_FOUND, INVALID_PARAMETER, UNPROCESSABLE_CONTENT, *STORE_PROBLEMS),
)


def block_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """The list and each of its members."""
    decoder = BodyDecoder(BlockMembers, {}, crib.limits.max_body_bytes)

    @put("/v1/sites/{site_id:str}/blocks/{block_id:path}", opt={OPERATION: _PUT})
    async def put_block(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, BLOCK)
        by = crib.acting(request)
        body = await read_document(request, (JSON,))

        def work(store: Store) -> BlockKept:
            wanted = _read(name, decoder.decode(body))
            try:
                return keep_block(store, site, wanted, by)
            except NoSuchSetError as error:
                faults = Faults()
                nearest = or_nearest(wanted.block.set or "", error.known)
                faults.meaningless("/set", f"there is no set {wanted.block.set!r}{nearest}")
                refuse_if_any(faults)
                raise

        done = await crib.door.run(request, work)
        location = f"{crib.prefix}/v1/sites/{site}/blocks/{quote(name)}"
        kept, made = done.change.after, done.change.before is None
        risks = write_risks(done.at_risk, crib.prefix)
        answer = PutBlock(**asdict(write_block(kept)), at_risk=risks)
        return respond_kept(answer, kept.version, location, made=made)

    @get("/v1/sites/{site_id:str}/blocks/{block_id:path}", opt={OPERATION: _GET})
    async def get_one_block(request: HttpRequest) -> Response[bytes]:
        site, name = site_of(request, SITE), id_of(request, BLOCK)

        found = await crib.door.read(request, lambda connection: get_block(connection, site, name))
        return respond_version(request, write_block(found), found.version)

    @get("/v1/sites/{site_id:str}/blocks", opt={OPERATION: _LIST})
    async def list_all_blocks(request: HttpRequest) -> Response[bytes]:
        site, place, asked = site_of(request, SITE), place_of(request), asked_blocks(request)

        def work(connection: Reading) -> Page[KeptBlock]:
            wanted = asked.at(crib.clock(), get_site(connection, site).time_zone)
            return list_blocks(connection, site, wanted, place)

        page = await crib.door.read(request, work)
        body = BlockList(blocks=tuple(write_block(each) for each in page.items), next=page.last)
        return respond_page(request, body, crib.prefix)

    return [put_block, get_one_block, list_all_blocks]


def _read(name: str, body: BlockMembers) -> WantedBlock:
    faults = Faults()
    if body.id != name:
        faults.meaningless("/id", f"the id in the address is {name!r}")
    wanted = read_one(body, Shared(), (), faults)
    refuse_if_any(faults)
    return wanted
