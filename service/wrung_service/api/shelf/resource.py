"""All routes of sites, sets and blocks."""

from litestar.handlers import HTTPRouteHandler

from wrung_service.api.shelf.asking import Crib
from wrung_service.api.shelf.blocks import block_routes
from wrung_service.api.shelf.sets import set_routes
from wrung_service.api.shelf.sites import site_routes


def shelf_routes(crib: Crib) -> list[HTTPRouteHandler]:
    """Sites, and what each of them has."""
    return [*site_routes(crib), *set_routes(crib), *block_routes(crib)]
