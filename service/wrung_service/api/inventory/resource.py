"""``inventory``, ``inventory-imports``, ``certificate-imports``, ``calibration-due`` of a site."""

from typing import Final
from zoneinfo import ZoneInfo

import msgspec
from litestar import Response, get, post
from litestar.handlers import HTTPRouteHandler

from wrung.errors import InputError
from wrung_service.api.bodies import (
    JSON,
    VARY_BY_LANGUAGE,
    HttpRequest,
    media_type_of,
    preferred,
    read_document,
    wanted_language,
    wants_csv,
)
from wrung_service.api.certificates.answer import write_remarks
from wrung_service.api.certificates.reading import MEDIA, PARAMETERS, CertificateReader
from wrung_service.api.faults import Faults
from wrung_service.api.inventory.bringing import Importer, bring, take_out
from wrung_service.api.inventory.due import DueList, as_calendar, due_list
from wrung_service.api.inventory.operations import (
    CALENDAR,
    CSV,
    DUE,
    EXPORT,
    IMPORT,
    certify_operation,
)
from wrung_service.api.inventory.shapes import (
    ImportReport,
    write_report,
)
from wrung_service.api.operations import OPERATION
from wrung_service.api.problem_types import INVALID_PARAMETER
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.api.responses import respond, respond_accepted
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.filters import day_in, text_in, truth_in
from wrung_service.api.shelf.ids import SITE
from wrung_service.store.blocks import BlockFilter
from wrung_service.store.engine import Store
from wrung_service.store.sites import get_site
from wrung_service.usecases.inventory.bring_in import BringIn
from wrung_service.usecases.inventory.certify import certify, whole_shelf

_ENCODER: Final = msgspec.json.Encoder()


def inventory_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """All of them."""
    return [*_out(crib), _in(crib), _certified(crib)]


def _out(crib: Crib) -> list[HTTPRouteHandler]:
    @get("/v1/sites/{site_id:str}/inventory", opt={OPERATION: EXPORT})
    async def export_inventory(request: HttpRequest) -> Response[bytes]:
        site = site_of(request, SITE)
        as_csv = wants_csv(request)
        content = await crib.door.run(request, lambda store: take_out(store, site, as_csv=as_csv))
        return respond_accepted(request, content, CSV if as_csv else JSON)

    @get("/v1/sites/{site_id:str}/calibration-due", opt={OPERATION: DUE})
    async def list_due(request: HttpRequest) -> Response[bytes]:
        site, before, now = site_of(request, SITE), day_in(request, "due_before"), crib.clock()
        language = request.query_params.get("language", "en")
        if language not in ("en", "de"):
            raise Refusal(INVALID_PARAMETER, f"language: {language[:40]!r} is neither en nor de.")
        wanted = truth_in(request, "calendar")
        if wanted is None:
            wanted = preferred(request, JSON, CALENDAR) == CALENDAR

        def work(store: Store) -> DueList:
            held = whole_shelf(store, site, BlockFilter(due_before=before))
            with store.reading() as connection:
                zone = ZoneInfo(get_site(connection, site).time_zone)
            return due_list(held, now.astimezone(zone).date())

        due = await crib.door.run(request, work)
        if wanted:
            calendar = as_calendar(due, site, now, language)
            return respond_accepted(request, calendar, CALENDAR)
        return respond_accepted(request, _ENCODER.encode(due), JSON)

    return [export_inventory, list_due]


def _in(crib: Crib) -> HTTPRouteHandler:
    importer = Importer(crib.limits.max_body_bytes, crib.prefix)

    @post("/v1/sites/{site_id:str}/inventory-imports", status_code=200, opt={OPERATION: IMPORT})
    async def import_inventory(request: HttpRequest) -> Response[bytes]:
        site, by = site_of(request, SITE), crib.acting(request)
        preview = truth_in(request, "preview") is True
        body = await read_document(request, (JSON, CSV))
        as_csv = media_type_of(request) == CSV

        def work(store: Store) -> ImportReport:
            return importer.bring(store, site, body, by, as_csv=as_csv, preview=preview)

        return respond(await crib.door.run(request, work))

    return import_inventory


def _certified(crib: Crib) -> HTTPRouteHandler:
    reader = CertificateReader(crib.limits)
    operation = certify_operation(MEDIA, PARAMETERS)

    @post(
        "/v1/sites/{site_id:str}/certificate-imports",
        status_code=200,
        opt={OPERATION: operation},
    )
    async def import_certificate(request: HttpRequest) -> Response[bytes]:
        site, by = site_of(request, SITE), crib.acting(request)
        preview, asked = truth_in(request, "preview") is True, reader.asked(request)
        of_set = text_in(request, "set", 64)
        body = await read_document(request, reader.accepted)

        def work(store: Store) -> ImportReport:
            found = reader.read(body, asked)
            try:
                certified = certify(whole_shelf(store, site), found.blocks, of_set)
            except InputError as error:
                raise _unknown_blocks(error) from None
            wanted = BringIn(blocks=certified.blocks, versions=certified.versions)
            done = bring(store, site, wanted, by, preview=preview)
            return write_report(done, crib.prefix, write_remarks(found.remarks, language))

        language = wanted_language(request) or "en"
        answer = respond(await crib.door.run(request, work))
        answer.headers.update(VARY_BY_LANGUAGE)
        return answer

    return import_certificate


def _unknown_blocks(error: InputError) -> Refusal:
    faults = Faults()
    for fault in error.faults:
        faults.meaningless(fault.pointer.replace("/certified", "/blocks", 1), fault.detail)
    try:
        refuse_if_any(faults)
    except Refusal as refusal:
        return refusal
    raise error
