"""``/crib/{site_id}/coverage``: which lengths the blocks of a site can build now."""

import time
from collections.abc import Callable, Mapping
from functools import partial
from typing import Final

import msgspec
from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from msgspec import Struct

from wrung.texts import marked
from wrung_service.api.bodies import HttpRequest
from wrung_service.api.clients import client_of
from wrung_service.api.coverage.answer import CoverageAnswer
from wrung_service.api.coverage.work import CoverageWork
from wrung_service.api.crib_pages.failing import fault_words
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.disconnects import unless_gone
from wrung_service.api.failures import Handlers
from wrung_service.api.operations import PAGE, PAGE_SCOPE
from wrung_service.api.page_parts import language_of
from wrung_service.api.problems import Refusal
from wrung_service.api.shelf.asking import Crib, site_of
from wrung_service.api.shelf.ids import SITE
from wrung_service.pool import SolvePool, Turn
from wrung_service.store.engine import Store
from wrung_service.store.pages import Place
from wrung_service.store.sets import StoredSet, list_sets
from wrung_service.store.sites import Site, get_site

_LIMIT_MS: Final = 5000
_MOST_SETS: Final = 500
_MOST_RUNS: Final = 100
_USUAL: Final = {"mm": ("1", "100", "0.005"), "in": ("0.2", "4", "0.0005")}
"""Lengths that shops need: from, to, and step."""


class Range(Struct, frozen=True, kw_only=True):
    """The lengths that are asked for, as typed."""

    set: str
    unit: str
    start: str
    stop: str
    step: str

    def body(self, site: str, language: str) -> bytes:
        """What a program would send."""
        names = ("start", "stop", "step")
        # Both signs, as on the page to type into.
        typed = {name: getattr(self, name).strip().replace(",", ".") for name in names}
        lengths = {name: text for name, text in typed.items() if text}
        sets = {"sets": [self.set]} if self.set else {}
        return msgspec.json.encode(
            {
                "unit": self.unit,
                "crib": {"site": site, **sets},
                "range": lengths,
                "max_runs": _MOST_RUNS,
                "picture": True,
                "language": language,
                "time_limit_ms": _LIMIT_MS,
            }
        )


def covering(
    crib: Crib, pages: Pages, failures: Handlers, pool: SolvePool, work: CoverageWork
) -> HTTPRouteHandler:
    """The page; it asks as a program would, in the same pool."""

    @get(
        "/crib/{site_id:str}/coverage",
        opt={PAGE: True, PAGE_SCOPE: "read"},
        exception_handlers=failures,
    )
    async def show_coverage(request: HttpRequest) -> Response[bytes]:
        site = site_of(request, SITE)
        of, sets = await crib.door.run(request, lambda store: _known(store, site))
        asked, answer, refusal = _asked(request, sets, pages.mark(request)), None, None
        if "start" in request.query_params:
            body = asked.body(site, language_of(request))

            def survey(turn: Turn) -> CoverageAnswer:
                return work(body, turn)

            running = pool.run(
                survey, client=client_of(request), limit_ms=_LIMIT_MS, received=time.monotonic()
            )
            try:
                answer = await unless_gone(request.receive, running)
            except Refusal as error:
                # Shown beside what was typed, so that it can be put right.
                if not error.errors:
                    raise
                refusal = error
        return pages.show(
            request,
            "coverage.html",
            status=refusal.kind.status if refusal else 200,
            site=of,
            sets=sets,
            asked=asked,
            answer=answer,
            faults=_faults(refusal, fault_words(request)),
            printed=partial(marked, mark=pages.mark(request)),
        )

    return show_coverage


def _faults(refusal: Refusal | None, said: Callable[[str], str]) -> Mapping[str, str]:
    """What is wrong with a field, by its name."""
    errors = refusal.errors if refusal else ()
    return {each.pointer.rpartition("/")[2]: said(each.detail) for each in errors}


def _known(store: Store, site: str) -> tuple[Site, tuple[StoredSet, ...]]:
    with store.reading() as connection:
        of = get_site(connection, site)
        return of, list_sets(connection, site, Place(limit=_MOST_SETS)).items


def _asked(request: HttpRequest, sets: tuple[StoredSet, ...], mark: str) -> Range:
    """As the address says it; else what is usual for the set, with this decimal sign."""
    given = request.query_params
    chosen = next((each for each in sets if each.id == given.get("set")), None)
    unit = given.get("unit", "")
    if unit not in _USUAL:
        first = chosen or (sets[0] if sets else None)
        unit = "mm" if first is None else first.unit
    start, stop, step = (each.replace(".", mark) for each in _USUAL[unit])
    return Range(
        set=chosen.id if chosen is not None else "",
        unit=unit,
        start=given.get("start", start),
        stop=given.get("stop", stop),
        step=given.get("step", step),
    )
