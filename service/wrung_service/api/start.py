"""``/``: leads people to the pages, and programs to everything by links."""

from typing import Annotated, Any, Final

from litestar import Response, get
from litestar.handlers import HTTPRouteHandler
from msgspec import Meta, Struct

from wrung_service.api.bench.resource import Bench
from wrung_service.api.bodies import HttpRequest, wants_page
from wrung_service.api.operations import OPERATION, PAGE, Example, Operation
from wrung_service.api.responses import respond_table


class Link(Struct, frozen=True, kw_only=True):
    """Where something is."""

    rel: Annotated[
        str,
        Meta(
            description="What it is: a link relation registered with IANA where there is one. "
            "More may be added."
        ),
    ]
    href: Annotated[
        str,
        Meta(
            description="Its address, relative to the one asked for.",
            extra_json_schema={"format": "uri-reference"},
        ),
    ]
    title: Annotated[str, Meta(description="What it is, in words.")]


class LinkList(Struct, frozen=True, kw_only=True):
    """Links to everything that the service has."""

    links: Annotated[tuple[Link, ...], Meta(description="From the most general on.")]


# Relative, so that they hold under any prefix.
_LINKS: Final = LinkList(
    links=(
        Link(rel="service-desc", href="openapi.json", title="OpenAPI document"),
        Link(rel="service-doc", href="docs/", title="The document as pages"),
        Link(rel="help", href="guide/", title="Guide"),
        Link(rel="stacks", href="v1/stacks", title="Stacks for targets; POST"),
        Link(rel="stack-checks", href="v1/stack-checks", title="Check of stacks; POST"),
        Link(rel="coverage", href="v1/coverage", title="Lengths that blocks reach; POST"),
        Link(rel="certificate-imports", href="v1/certificate-imports", title="Certificates; POST"),
        Link(rel="soaking-times", href="v1/soaking-times", title="Time to soak; POST"),
        Link(
            rel="contact-compressions",
            href="v1/contact-compressions",
            title="Compression of a ball; POST",
        ),
        Link(rel="drift-estimates", href="v1/drift-estimates", title="Drift of a block; POST"),
        Link(rel="compositions", href="v1/compositions", title="Gauge sets"),
        Link(rel="grades", href="v1/grades", title="Grades"),
        Link(rel="materials", href="v1/materials", title="Materials"),
        Link(rel="limits", href="v1/limits", title="Limits of this instance"),
        Link(rel="problems", href="problems", title="Kinds of problem"),
        Link(rel="status", href="readyz", title="Whether the service is ready"),
    )
)
_OPERATION: Final = Operation(
    id="listLinks",
    tag="service",
    scope=None,
    summary="List links",
    description="Where everything is. A browser, which asks for HTML, gets the page for people at "
    "the bench instead.",
    answer=LinkList,
    answer_examples={
        "links": Example(
            summary="Two of the links",
            value={
                "links": [
                    {"rel": link.rel, "href": link.href, "title": link.title}
                    for link in _LINKS.links[:2]
                ]
            },
        )
    },
)


def start_routes(bench: Bench) -> list[HTTPRouteHandler]:
    """The one resource; ``bench`` shows people the page to type into."""

    @get("/", opt={OPERATION: _OPERATION, PAGE: True})
    async def list_links(request: HttpRequest) -> Response[Any]:
        # Who states no wish is a program; browsers state one.
        if wants_page(request):
            return await bench.show(request, "page.html")
        response = respond_table(request, _LINKS)
        response.headers["Vary"] = "Accept, Accept-Encoding"
        return response

    return [list_links]
