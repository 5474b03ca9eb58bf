"""``/crib/{site_id}/import``: a shelf as CSV, first what it would change, then the change."""

from hashlib import sha256
from typing import Any, Final

import msgspec
from litestar import Response, get, post
from litestar.datastructures import UploadFile
from litestar.exceptions import InternalServerException
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.crib_pages.forms import refuse_from_elsewhere
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.disconnects import ClientGoneError
from wrung_service.api.failures import Handlers
from wrung_service.api.inventory.bringing import Importer
from wrung_service.api.inventory.shapes import ImportReport
from wrung_service.api.operations import PAGE, PAGE_SCOPE
from wrung_service.api.problem_types import UNPROCESSABLE_CONTENT
from wrung_service.api.problems import Refusal
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.ids import SITE
from wrung_service.store.engine import Store
from wrung_service.store.sites import Site, get_site

_CRIB: Final = {PAGE: True, PAGE_SCOPE: "crib"}


def importing(crib: Crib, pages: Pages, failures: Handlers) -> list[HTTPRouteHandler]:
    """The form, and what it is sent to, which both previews and takes over."""
    importer = Importer(crib.limits.max_body_bytes, crib.prefix)

    @get("/crib/{site_id:str}/import", opt=_CRIB, exception_handlers=failures)
    async def show_form(request: HttpRequest) -> Response[bytes]:
        site = await crib.door.run(request, lambda store: _site(store, site_of(request, SITE)))
        return pages.show(request, "import.html", site=site, report=None, csv="", seen="")

    @post("/crib/{site_id:str}/import", opt=_CRIB, status_code=200, exception_handlers=failures)
    async def bring(request: HttpRequest) -> Response[Any]:
        site, by = site_of(request, SITE), crib.acting(request)
        csv, seen = await _sent(request)

        def work(store: Store) -> tuple[Site, ImportReport]:
            def run(*, preview: bool) -> ImportReport:
                return importer.bring(store, site, csv, by, as_csv=True, preview=preview)

            report = run(preview=True)
            # Whoever pressed the button has seen just this; if the crib changed since, look again.
            done = run(preview=False) if seen == _digest(report) else report
            return _site(store, site), done

        of, report = await crib.door.run(request, work)
        if report.applied:
            return pages.lead(f"/crib/{site}")
        return pages.show(
            request,
            "import.html",
            site=of,
            report=report,
            csv=csv.decode("utf-8-sig"),
            seen=_digest(report),
            changed_since=bool(seen),
        )

    return [show_form, bring]


async def _sent(request: HttpRequest) -> tuple[bytes, str]:
    """The CSV, from a file or a field, and the digest of the preview that was seen.

    Raises:
        Refusal: 403, another site sent it; 422, there is none.
        ClientGoneError: the connection was closed in the middle of it.
    """
    refuse_from_elsewhere(request)
    try:
        form = await request.form()
    except InternalServerException:
        raise ClientGoneError from None
    upload, text, seen = form.get("file"), form.get("csv"), form.get("seen")
    content = await upload.read() if isinstance(upload, UploadFile) else b""
    if not content and isinstance(text, str):
        content = text.encode()
    if not content.strip():
        raise Refusal(UNPROCESSABLE_CONTENT, "There is no CSV in the form.")
    return content, seen if isinstance(seen, str) else ""


def _site(store: Store, site: str) -> Site:
    with store.reading() as connection:
        return get_site(connection, site)


def _digest(report: ImportReport) -> str:
    return sha256(msgspec.json.encode(report)).hexdigest()
