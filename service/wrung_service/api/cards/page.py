"""Cards on a screen: a page with the same content as the paper, and links to that."""

from typing import Final
from urllib.parse import parse_qsl, urlencode

from msgspec import Struct

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.cards.typesetting import FORMATS, Printed
from wrung_service.api.page_parts import templates, theme_of

_OWN: Final = frozenset({"format", "media", "page"})


class Place(Struct, frozen=True, kw_only=True):
    """Where a page is seen.

    Attributes:
        root: the way from there to the root of the service, as a relative address.
        query: what its address asks beside the format; None where no link can ask the same.
        theme: light or dark, else as the system has it.
    """

    root: str = "../"
    query: tuple[tuple[str, str], ...] | None = None
    theme: str = ""

    def link(self, paper: str, media: str) -> str:
        """To the same cards on another paper, or as another kind of file."""
        return "?" + urlencode([*(self.query or ()), ("format", paper), ("media", media)])


def place_of(request: HttpRequest) -> Place:
    """Where a request is answered."""
    pairs = parse_qsl(request.url.query, max_num_fields=1000)
    kept = tuple(pair for pair in pairs if pair[0] not in _OWN)
    return Place(
        root="../" * (request.url.path.count("/") - 1),
        query=kept if request.method == "GET" else None,
        theme=theme_of(request),
    )


def as_page(printed: Printed, place: Place) -> bytes:
    """The page."""
    kind = printed.format.partition("-")[0]
    name = f"{kind}.html" if kind in ("sheet", "record") else "cards.html"
    template = templates("cards").get_template(name)
    # A link to a record leads nowhere where nothing is checked.
    formats = [f for f in FORMATS if printed.records or not f.startswith("record")]
    return template.render(printed=printed, w=printed.words, place=place, formats=formats).encode()
