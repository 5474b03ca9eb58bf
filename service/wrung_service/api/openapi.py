"""The OpenAPI document, built from the routes themselves and from the types on the wire.

Litestar's own generator drops constraints of Structs; msgspec's schemas have them all. So each
route handler carries an `Operation`, and this module writes down what it says.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from litestar import Litestar
from litestar.handlers import HTTPRouteHandler
from msgspec import Struct

from wrung import __version__
from wrung_service.api.bodies import JSON
from wrung_service.api.components import name_components, name_schema
from wrung_service.api.openapi_parameters import parameters_document
from wrung_service.api.operations import (
    OPERATION,
    AnswerLink,
    Deferred,
    Example,
    MediaBody,
    Operation,
)
from wrung_service.api.problem_types import CATALOGUE, ProblemType
from wrung_service.api.problems import PROBLEM_JSON, Problem
from wrung_service.api.schemas import Document, published_schemas, reference
from wrung_service.api.webhooks.document import MESSAGES, webhooks_document
from wrung_service.settings import Settings

_DESCRIPTION: Final = """\
Finds stacks of gauge blocks that can be built from the blocks on the shelf, proven best, with their
worst-case error.

- Lengths are decimal text (`"12.3455"`). A JSON number is accepted as well and taken by its digits,
  although the types here leave it out: text is what programs should send. The `unit` of a request
  holds for every length in it; deviations and errors are in its small unit, µm or µin.
- Errors are problem details (RFC 9457). 400: the request does not match this document. 422: it
  matches, but its values cannot be processed. `errors` points to each member at fault.
- Unknown members and unknown query parameters are refused, not ignored, and so is a parameter
  given twice. Of a member given twice in one JSON object the last one counts.
- Answers are JSON, unless `Accept` asks for another media type that the operation has. A trailing
  slash in a path is ignored. HEAD is answered like GET.
- `X-Request-ID` (at most 64 visible ASCII characters) is repeated in the answer and the log;
  if you send none, the service makes one.
- `traceparent` (W3C Trace Context) is passed through to the log, as `trace_id` and `parent_id`.
- Tables, lists, pages and this document have an `ETag`: send it as `If-None-Match`, and 304 says
  that yours is still right. Answers from 1 kB on are packed with gzip if `Accept-Encoding` allows
  it.
- Within `/v1`, new members may appear in answers and new optional members in requests; ignore
  members that you do not know. Each enumeration says whether values may be added to it. No member
  has a `default` here, because many generators take it for one that must be sent; the description
  says what holds if a member is left out.
- Where an instance controls access, send `Authorization: Bearer` and a key or token; each
  operation says in `x-required-scope` which scope it needs.
- Malformed HTTP is answered by the server underneath the application, in plain text.
"""
_TAGS: Final = {
    "stacks": "Stacks from the blocks on the shelf.",
    "certificates": "Calibration certificates, read into blocks.",
    "estimates": "Times to soak, balls pressed in by the measuring force, drifts of blocks.",
    "crib": "Sites, and the sets and blocks that they have.",
    "batches": "Many requests, answered in the background.",
    "plans": "Blocks promised to jobs for a time.",
    "webhooks": "Messages to other systems, signed (Standard Webhooks).",
    "reference data": "Gauge sets, grades, materials and tapers.",
    "service": "The service itself.",
}
_REQUEST_ID_REF: Final = {"$ref": "#/components/headers/X-Request-ID"}
_REQUEST_ID: Final = {
    "description": "The request's id, as sent or as made by the service.",
    "schema": {"type": "string", "minLength": 1, "maxLength": 64},
}
_RETRY_AFTER: Final = {
    "description": "Try again after this many seconds.",
    "schema": {"type": "integer", "minimum": 1},
}
_BEARER: Final = "bearer"
_BEARER_SCHEME: Final = {
    "type": "http",
    "scheme": "bearer",
    "description": "An API key made by `wrung keys add`, or an OAuth 2.0 access token (client "
    "credentials) of the issuer that the instance believes. Scopes: `read` asks and changes "
    "nothing, `plan` makes and ends plans, `crib` keeps sets and blocks, `admin` does everything.",
}
_BASIC: Final = "basic"
_BASIC_SCHEME: Final = {
    "type": "http",
    "scheme": "basic",
    "description": "An API key as the password, with any user name, for calendar programs.",
}
_HEADERS: Final[Mapping[int, Document]] = {
    401: {
        "WWW-Authenticate": {
            "description": "How to identify oneself (RFC 6750).",
            "schema": {"type": "string"},
        }
    },
    429: {"Retry-After": _RETRY_AFTER},
    415: {
        "Accept-Post": {
            "description": "The media type that is accepted.",
            "schema": {"type": "string"},
        }
    },
    503: {"Retry-After": _RETRY_AFTER},
}


def openapi_document(app: Litestar, settings: Settings) -> Document:
    """The document of every route that carries an `Operation`."""
    # Sorted, so that the order in which routes are put together does not show.
    operations = sorted(_operations(app), key=lambda found: found[:2])
    paths: dict[str, Document] = {}
    for path, method, operation in operations:
        paths.setdefault(path, {})[method.lower()] = _operation(operation)
    schemas = {
        **published_schemas(_bodies(each for _, _, each in operations), settings.limits),
        **_media_schemas(each for _, _, each in operations),
        **_parameter_schemas(each for _, _, each in operations),
    }
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "wrung",
            "version": __version__,
            "description": _DESCRIPTION,
            "contact": _contact(settings.contact),
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        # Without a host: an instance does not know by which name it is reached.
        "servers": [{"url": settings.path_prefix or "/"}],
        # Each operation says what it needs, and that an instance may ask for nothing.
        "security": [],
        "tags": [{"name": name, "description": text} for name, text in _TAGS.items()],
        "paths": paths,
        "webhooks": webhooks_document(),
        "components": {
            "schemas": dict(sorted(schemas.items())),
            "examples": _problem_examples(
                (operation for _, _, operation in operations), settings.path_prefix
            ),
            "headers": {"X-Request-ID": _REQUEST_ID},
            "securitySchemes": {_BEARER: _BEARER_SCHEME, _BASIC: _BASIC_SCHEME},
        },
    }


def _contact(given: str) -> Document:
    """The contact of whoever runs this instance, as far as they gave one."""
    about = {"name": "Whoever runs this instance"}
    return about if not given else {**about, "email" if "@" in given else "url": given}


def _media_schemas(operations: Iterable[Operation]) -> Document:
    media = [each for found in operations for each in (*found.media, *found.answer_media)]
    own = {each.name: each.schema for each in media}
    more = {name: schema for each in media for name, schema in each.more.items()}
    return {
        name: {"title": name, **name_schema(schema)} for name, schema in {**own, **more}.items()
    }


def _parameter_schemas(operations: Iterable[Operation]) -> Document:
    """The enumerations that only parameters have."""
    own = {
        f"{found.id} {each.name}": {"schema": dict(each.schema)}
        for found in operations
        for each in found.query
    }
    return {name: schema for name, schema in name_components(own).items() if name not in own}


def _operations(app: Litestar) -> Iterable[tuple[str, str, Operation]]:
    for route in app.routes:
        for handler in getattr(route, "route_handlers", ()):
            operation = handler.opt.get(OPERATION)
            # Pages have none: the document is about the API.
            if isinstance(operation, Operation):
                yield from ((route.path_format, method, operation) for method in _asked(handler))


def _bodies(operations: Iterable[Operation]) -> Iterable[type[Struct]]:
    yield Problem
    yield from MESSAGES
    for operation in operations:
        if operation.answer:
            yield operation.answer
        if operation.body:
            yield operation.body
        if operation.other:
            yield from (operation.other.body, operation.other.answer)
        if operation.deferred:
            yield operation.deferred.answer


def _asked(handler: HTTPRouteHandler) -> Iterable[str]:
    # The framework answers OPTIONS of its own accord; that is no operation of ours.
    return sorted(method for method in handler.http_methods if method != "OPTIONS")


def _operation(operation: Operation) -> Document:
    document: Document = {
        "operationId": operation.id,
        "tags": [operation.tag],
        "summary": operation.summary,
        "description": operation.description,
    }
    if parameters := parameters_document(operation):
        document["parameters"] = parameters
    content = {each.media_type: _document_content(each) for each in operation.media}
    if operation.body:
        other = operation.other.body if operation.other else None
        content = {JSON: _content(operation.body, other, operation.body_examples), **content}
    if content:
        document["requestBody"] = {"required": True, "content": content}
    document["responses"] = _responses(operation)
    if operation.scope:
        # The empty one: without access control nobody needs a key.
        schemes = (_BEARER, _BASIC) if operation.basic else (_BEARER,)
        document["security"] = [*({each: list[str]()} for each in schemes), {}]
        # Linters know scopes of OAuth only, whose token address is not ours to say.
        document["x-required-scope"] = operation.scope
    return document


def _document_content(media: MediaBody) -> Document:
    schema = {"schema": {"$ref": f"#/components/schemas/{media.name}"}}
    return {**schema, "examples": _examples(media.examples)} if media.examples else schema


def _responses(operation: Operation) -> Document:
    other = operation.other.answer if operation.other else None
    content = {each.media_type: _document_content(each) for each in operation.answer_media}
    said = [each.schema["description"] for each in operation.answer_media]
    if operation.answer:
        said.insert(0, operation.answer.__doc__)
        content = {JSON: _content(operation.answer, other, operation.answer_examples), **content}
    success = {
        "description": said[0],
        "headers": {"X-Request-ID": _REQUEST_ID_REF, **_answer_headers(operation)},
        "content": content,
    }
    if operation.links:
        success["links"] = {name: _link(link) for name, link in operation.links.items()}
    # OpenAPI has one response a status, so problems that share one become its examples.
    by_status: dict[int, list[ProblemType]] = {}
    for kind in sorted(operation.every_problem, key=lambda kind: kind.status):
        by_status.setdefault(kind.status, []).append(kind)
    problems = {str(status): _problem(status, kinds) for status, kinds in by_status.items()}
    return {str(operation.status): success, **_other_successes(operation, success), **problems}


def _other_successes(operation: Operation, success: Document) -> Document:
    """By status, what else an operation may be answered with that is no problem."""
    found = {"201": success} if operation.made else {}
    if operation.deferred:
        found["202"] = _deferred(operation.deferred)
    if operation.nothing_more:
        headers = {"X-Request-ID": _REQUEST_ID_REF}
        found["204"] = {"description": operation.nothing_more, "headers": headers}
    return {**found, **_not_modified(operation)}


def _deferred(answer: Deferred) -> Document:
    return {
        "description": answer.answer.__doc__,
        "headers": {"X-Request-ID": _REQUEST_ID_REF, **_said_headers(answer.headers)},
        "content": {JSON: _content(answer.answer, None, answer.examples)},
    }


def _not_modified(operation: Operation) -> Document:
    """What GET answers a client that has the newest version already."""
    reads = any(each.name == "If-None-Match" for each in operation.headers)
    if not reads or operation.body:
        return {}
    headers = {"X-Request-ID": _REQUEST_ID_REF, **_answer_headers(operation)}
    return {"304": {"description": "The client has it already.", "headers": headers}}


def _answer_headers(operation: Operation) -> Document:
    return _said_headers(operation.answer_headers)


def _said_headers(headers: Mapping[str, str]) -> Document:
    return {
        name: {"description": said, "schema": {"type": "string"}} for name, said in headers.items()
    }


def _link(link: AnswerLink) -> Document:
    document: Document = {"operationId": link.operation, "description": link.description}
    if link.parameters:
        document["parameters"] = dict(link.parameters)
    return document


def _problem(status: int, kinds: Sequence[ProblemType]) -> Document:
    examples = {kind.name: {"$ref": f"#/components/examples/{kind.name}"} for kind in kinds}
    return {
        "description": "; ".join(kind.title for kind in kinds),
        "headers": {"X-Request-ID": _REQUEST_ID_REF, **_HEADERS.get(status, {})},
        "content": {PROBLEM_JSON: {"schema": reference(Problem), "examples": examples}},
    }


def _problem_examples(operations: Iterable[Operation], prefix: str) -> Document:
    kinds = {kind for operation in operations for kind in operation.every_problem}
    return {
        kind.name: {"summary": kind.title, "value": _problem_example(kind, prefix)}
        for kind in CATALOGUE
        if kind in kinds
    }


def _problem_example(kind: ProblemType, prefix: str) -> Document:
    """A problem of that kind; details of the form "pointer: fault" name the member, too."""
    at, found, fault = kind.example.partition(": ")
    members = [{"pointer": at, "detail": fault.rstrip(".")}] if at.startswith("/") and found else []
    return {
        "type": prefix + kind.uri,
        "title": kind.title,
        "status": kind.status,
        "detail": kind.example,
        "instance": f"{prefix}/v1/stacks",
        "request_id": "op20-first-try",
        "errors": members,
    }


def _content(
    body: type[Struct], other: type[Struct] | None, examples: Mapping[str, Example]
) -> Document:
    both = [reference(each) for each in (body, other) if each]
    return {
        "schema": both[0] if len(both) == 1 else {"oneOf": both},
        "examples": _examples(examples),
    }


def _examples(examples: Mapping[str, Example]) -> Document:
    return {
        name: {"summary": example.summary, "value": example.value}
        for name, example in examples.items()
    }
