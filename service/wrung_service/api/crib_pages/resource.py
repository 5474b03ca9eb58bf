"""Every page of the crib, and what its forms post to."""

from litestar.handlers import HTTPRouteHandler

from wrung_service.api.bench.resource import Bench
from wrung_service.api.coverage.work import CoverageWork
from wrung_service.api.crib_pages.changing import changing
from wrung_service.api.crib_pages.covering import covering
from wrung_service.api.crib_pages.failing import failing_pages
from wrung_service.api.crib_pages.importing import importing
from wrung_service.api.crib_pages.looking import looking
from wrung_service.api.crib_pages.rendering import Pages
from wrung_service.api.crib_pages.signing_in import signing_in
from wrung_service.api.crib_pages.stacking import stacking
from wrung_service.api.failures import Handlers
from wrung_service.api.shelf.asking import Crib
from wrung_service.pool import SolvePool


def crib_page_routes(  # noqa: PLR0913 - what pages are made of
    crib: Crib,
    handlers: Handlers,
    pool: SolvePool,
    coverage: CoverageWork,
    bench: Bench,
    *,
    asks: bool,
) -> list[HTTPRouteHandler]:
    """All of them.

    Args:
        crib: what they show and change.
        pool: where coverage is worked out.
        coverage: works it out.
        bench: makes the page to type into.
        handlers: turn what is raised into problems.
        asks: whether a key is asked for.
    """
    pages = Pages(prefix=crib.prefix, asks=asks)
    failures = failing_pages(handlers, pages)
    return [
        *looking(crib, pages, failures),
        *changing(crib, pages, failures),
        *importing(crib, pages, failures),
        *stacking(crib, pages, failures, bench),
        covering(crib, pages, failures, pool, coverage),
        signing_in(pages, failures),
    ]
