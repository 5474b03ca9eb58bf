"""``/v1/sites/{site_id}/history``, ``/jobs/{job}`` and ``/recall``."""

from typing import Final

import msgspec
from litestar import Response, get
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import JSON, HttpRequest, wants_csv
from wrung_service.api.operations import OPERATION
from wrung_service.api.past.answer import History
from wrung_service.api.past.operations import GET_JOB, LIST_HISTORY, RECALL_BLOCK
from wrung_service.api.past.parameters import HistoryPage, history_page, job_of
from wrung_service.api.past.table import job_as_csv
from wrung_service.api.past.writing import write_entry, write_job, write_recall
from wrung_service.api.problem_types import INVALID_PARAMETER
from wrung_service.api.problems import Refusal
from wrung_service.api.records.table import CSV
from wrung_service.api.responses import ASK_EACH_TIME, respond_accepted, respond_kept
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.filters import day_in, text_in
from wrung_service.api.shelf.ids import SITE
from wrung_service.api.shelf.paging import respond_page
from wrung_service.store.engine import Store
from wrung_service.usecases.look_back import list_entries, look_back
from wrung_service.usecases.recall import recall

# Long answers are written in the thread that reads them.
_ENCODE: Final = msgspec.json.Encoder().encode


def past_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """History, a job of it, and the uses of a block."""

    @get("/v1/sites/{site_id:str}/history", opt={OPERATION: LIST_HISTORY})
    async def list_history(request: HttpRequest) -> Response[bytes]:
        site, asked = site_of(request, SITE), history_page(request)

        page = await crib.door.run(request, lambda store: _page(store, site, asked))
        return respond_page(request, page, crib.prefix)

    @get("/v1/sites/{site_id:str}/jobs/{job:path}", opt={OPERATION: GET_JOB})
    async def get_job(request: HttpRequest) -> Response[bytes]:
        site, job, table = site_of(request, SITE), job_of(request), wants_csv(request)

        def work(store: Store) -> bytes:
            past = look_back(store, site, job, crib.clock())
            return job_as_csv(past) if table else _ENCODE(write_job(site, job, past))

        content = await crib.door.run(request, work)
        return respond_accepted(request, content, CSV if table else JSON)

    @get("/v1/sites/{site_id:str}/recall", opt={OPERATION: RECALL_BLOCK})
    async def recall_block(request: HttpRequest) -> Response[bytes]:
        site, block = site_of(request, SITE), text_in(request, "block", 128)
        since = day_in(request, "since")
        if block is None or since is None:
            raise Refusal(INVALID_PARAMETER, "block, since: say which block, and since which day.")

        def work(store: Store) -> bytes:
            found = recall(store, site, block, since, crib.clock())
            return _ENCODE(write_recall(site, block, since, found))

        content = await crib.door.run(request, work)
        return respond_kept(request, content, media_type=JSON, keep=ASK_EACH_TIME)

    return [list_history, get_job, recall_block]


def _page(store: Store, site: str, asked: HistoryPage) -> History:
    # One more than asked for tells whether there is another page.
    found = list_entries(store, site, asked.wanted, after=asked.after, limit=asked.limit + 1)
    shown = found[: asked.limit]
    return History(
        entries=tuple(map(write_entry, shown)),
        next=str(shown[-1].number) if len(found) > asked.limit else None,
    )
