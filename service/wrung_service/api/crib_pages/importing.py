"""``/crib/{site_id}/import``: a shelf as CSV, first what it would change, then the change."""

from hashlib import sha256
from typing import Any, Final
from urllib.parse import urlencode

import msgspec
from litestar import Response, get, post
from litestar.datastructures import UploadFile
from litestar.exceptions import InternalServerException
from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.crib_pages.failing import fault_words
from wrung_service.api.crib_pages.forms import refuse_from_elsewhere
from wrung_service.api.crib_pages.import_view import MOST_CASES, ImportSeen, import_view, sets_of
from wrung_service.api.crib_pages.members import Members
from wrung_service.api.crib_pages.moments import calendar_of
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
from wrung_service.usecases.inventory.bring_in import BroughtIn
from wrung_service.usecases.look_at_crib import look_at_cases

_CRIB: Final = {PAGE: True, PAGE_SCOPE: "crib"}


def importing(crib: Crib, pages: Pages, failures: Handlers) -> list[HTTPRouteHandler]:
    """The form, and what it is sent to, which both previews and takes over."""
    importer = Importer(crib.limits.max_body_bytes, crib.prefix)

    @get("/crib/{site_id:str}/import", opt=_CRIB, exception_handlers=failures)
    async def show_form(request: HttpRequest) -> Response[bytes]:
        site = await crib.door.run(request, lambda store: _site(store, site_of(request, SITE)))
        return pages.show(request, "import.html", site=site, view=None, csv="", faults=())

    async def show_faults(
        request: HttpRequest, site: str, csv: bytes, refusal: Refusal
    ) -> Response[bytes]:
        said = fault_words(request)
        return pages.show(
            request,
            "import.html",
            status=refusal.kind.status,
            site=await crib.door.run(request, lambda store: _site(store, site)),
            view=None,
            csv=csv.decode("utf-8-sig", "replace"),
            faults=[said(each.detail) for each in refusal.errors],
        )

    @post("/crib/{site_id:str}/import", opt=_CRIB, status_code=200, exception_handlers=failures)
    async def bring(request: HttpRequest) -> Response[Any]:
        site, by = site_of(request, SITE), crib.acting(request)
        csv, seen = await _sent(request)

        def work(store: Store) -> ImportSeen:
            found = importer.bring_csv(store, site, csv, by, preview=True)
            # Whoever pressed the button has seen just this; if the crib changed since, look again.
            if seen == _digest(importer.report(found)):
                found = importer.bring_csv(store, site, csv, by, preview=False)
            cases = look_at_cases(store, site, sets_of(found)[:MOST_CASES], by.at)
            return ImportSeen(site=_site(store, site), found=found, cases=cases)

        try:
            shown = await crib.door.run(request, work)
        except Refusal as refusal:
            if not refusal.errors:
                raise
            return await show_faults(request, site, csv, refusal)
        if shown.found.applied:
            return pages.lead(_first_set(site, shown.found))
        calendar = calendar_of(shown.site.time_zone, by.at, pages.said(request))
        view = import_view(shown, Members(calendar=calendar, mark=pages.mark(request)))
        return pages.show(
            request,
            "import.html",
            site=shown.site,
            view=view,
            csv=csv.decode("utf-8-sig"),
            seen=_digest(importer.report(shown.found)),
            changed_since=bool(seen),
            faults=(),
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
        raise Refusal(UNPROCESSABLE_CONTENT, "Choose a CSV file or paste its lines first.")
    return content, seen if isinstance(seen, str) else ""


def _site(store: Store, site: str) -> Site:
    with store.reading() as connection:
        return get_site(connection, site)


def _first_set(site: str, found: BroughtIn) -> str:
    """Where to look at what was taken over."""
    of_set = next((each.after.block.set for each in found.blocks), None)
    return f"/crib/{site}?{urlencode({'set': of_set or ''})}"


def _digest(report: ImportReport) -> str:
    return sha256(msgspec.json.encode(report)).hexdigest()
