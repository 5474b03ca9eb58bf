"""``GET /v1/batches``: what its caller has posted, and what belongs to the sites that it sees."""

from typing import Final, get_args

import msgspec
from litestar import Response, get
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.batches.operations import LIST
from wrung_service.api.batches.posting import LONGEST_SITE, Posting
from wrung_service.api.batches.shapes import BatchList, write_batch
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import current_caller
from wrung_service.api.operations import OPERATION
from wrung_service.api.shelf.filters import chosen_in, text_in
from wrung_service.api.shelf.paging import place_of, respond_page, timed_cursor, timed_place_of
from wrung_service.store.batches.batches import BatchFilter, BatchState, list_batches
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnknownError
from wrung_service.store.sites import get_site

_STATES: Final = get_args(BatchState)


def listing_route(posting: Posting) -> HTTPRouteHandler:
    """The list."""

    @get("/v1/batches", opt={OPERATION: LIST})
    async def list_all(request: HttpRequest) -> Response[bytes]:
        place, caller = place_of(request), current_caller()
        wanted = BatchFilter(
            by=caller.name,
            sites=caller.sites,
            site=text_in(request, "site", LONGEST_SITE),
            state=chosen_in(request, "state", _STATES),
            after=timed_place_of(place.after),
            limit=place.limit,
        )
        page = await posting.door.run(request, lambda store: _page(store, wanted))
        return respond_page(request, page, posting.prefix)

    return list_all


def _page(store: Store, wanted: BatchFilter) -> BatchList:
    if wanted.site is not None and not current_caller().sees(wanted.site):
        raise UnknownError("site", wanted.site)
    # One more than asked for tells whether there is another page.
    more = msgspec.structs.replace(wanted, limit=wanted.limit + 1)
    with store.reading() as connection:
        if wanted.site is not None:
            get_site(connection, wanted.site)
        found = list_batches(connection, more)
    shown = found[: wanted.limit]
    return BatchList(
        batches=tuple(map(write_batch, shown)),
        next=timed_cursor(shown[-1].made_at, shown[-1].id) if len(found) > wanted.limit else None,
    )
