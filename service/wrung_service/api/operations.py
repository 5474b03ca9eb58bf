"""What the OpenAPI document says of an operation; stands in the options of its route handler."""

from collections.abc import Mapping
from importlib.resources import files
from typing import Any, Final

import msgspec
from msgspec import Struct

from wrung_service.api.problem_types import (
    ACCESS_PROBLEMS,
    BAD_REQUEST,
    INTERNAL_ERROR,
    UNKNOWN_PARAMETER,
    ProblemType,
)
from wrung_service.usecases.scopes import Scope

OPERATION: Final = "operation"
"""The key of the `Operation` in a route handler's options."""

PAGE: Final = "page"
"""The key of True in the options of a handler that reads a page's question from the address."""

PAGE_SCOPE: Final = "page_scope"
"""The key of the `Scope` that a page needs, where a key is asked for; it may come in a cookie."""

# What comes from the layers around the handlers can meet any operation.
ALWAYS: Final = (UNKNOWN_PARAMETER, BAD_REQUEST, INTERNAL_ERROR)


class Example(Struct, frozen=True, kw_only=True):
    """A body as it may be sent or received."""

    summary: str
    value: Any


class PathParameter(Struct, frozen=True, kw_only=True):
    """A variable part of the path.

    Attributes:
        schema: the JSON Schema of its text; any text that is not empty if None.
        allowed: that schema in words, for whoever sends something else.
    """

    name: str
    description: str
    example: str
    schema: Mapping[str, Any] | None = None
    allowed: str = ""


class QueryParameter(Struct, frozen=True, kw_only=True):
    """A parameter after the question mark; given once at most.

    Attributes:
        schema: the JSON Schema of its text.
    """

    name: str
    description: str
    schema: Mapping[str, Any]
    example: str
    required: bool = False


class HeaderParameter(Struct, frozen=True, kw_only=True):
    """A header that the operation reads."""

    name: str
    description: str
    schema: Mapping[str, Any]
    example: str


class AnswerLink(Struct, frozen=True, kw_only=True):
    """An operation that a successful answer leads to (a link of OpenAPI).

    Attributes:
        operation: its ``operationId``.
        parameters: by its parameters, runtime expressions such as ``$response.body#/id``.
    """

    operation: str
    description: str
    parameters: Mapping[str, str] = {}


class MediaBody(Struct, frozen=True, kw_only=True):
    """A body that is a document of its own, in one media type.

    Attributes:
        name: of its schema among the components, so that generated clients have it as a type.
        schema: its JSON Schema.
        more: schemas that it refers to, by name.
    """

    media_type: str
    name: str
    schema: Mapping[str, Any]
    more: Mapping[str, Mapping[str, Any]] = {}
    examples: Mapping[str, Example] = {}


class OtherBody(Struct, frozen=True, kw_only=True):
    """A second kind of body of an operation, told apart by its members, and its answer."""

    body: type[Struct]
    answer: type[Struct]


class Deferred(Struct, frozen=True, kw_only=True):
    """The answer 202 of an operation whose client would rather not wait (RFC 7240)."""

    answer: type[Struct]
    examples: Mapping[str, Example]
    headers: Mapping[str, str]


class Operation(Struct, frozen=True, kw_only=True):
    """One method of one path.

    Attributes:
        id: its ``operationId``, which names the method in generated clients.
        tag: the resource it belongs to.
        answer: the body of a successful answer; None if it is in ``answer_media`` only.
        body: the body of the request, if it has one.
        media: documents that it takes as bodies instead, one a media type.
        answer_media: other media types that it answers in, if asked to.
        other: another body that it takes in place of ``body``, and its answer.
        problems: what can go wrong, beside what can go wrong `ALWAYS`.
        status: of a successful answer.
        made: whether it also answers with 201, where it made something new.
        deferred: what it answers where the client would rather not wait.
        nothing_more: when it answers with 204, if it ever does.
        headers: those that it reads.
        answer_headers: by name, description of those that a successful answer has.
        links: operations that a successful answer leads to, by name.
        scope: what a key or token must allow for it, where one is asked for; None for nothing.
        basic: whether the key may also come as the password of HTTP Basic (RFC 7617), for
            programs that can send no other; only where nothing is changed, as browsers send it
            along, whoever made them ask.
    """

    id: str
    tag: str
    summary: str
    description: str
    answer: type[Struct] | None = None
    answer_examples: Mapping[str, Example] = {}
    body: type[Struct] | None = None
    # No shared default: msgspec makes a new dict for each Struct.
    body_examples: Mapping[str, Example] = {}
    media: tuple[MediaBody, ...] = ()
    answer_media: tuple[MediaBody, ...] = ()
    other: OtherBody | None = None
    parameters: tuple[PathParameter, ...] = ()
    query: tuple[QueryParameter, ...] = ()
    problems: tuple[ProblemType, ...] = ()
    status: int = 200
    made: bool = False
    deferred: Deferred | None = None
    nothing_more: str | None = None
    headers: tuple[HeaderParameter, ...] = ()
    answer_headers: Mapping[str, str] = {}
    links: Mapping[str, AnswerLink] = {}
    scope: Scope | None = "read"
    basic: bool = False

    @property
    def every_problem(self) -> tuple[ProblemType, ...]:
        """Its problems, and those that any operation of its kind can meet."""
        access = ACCESS_PROBLEMS if self.scope else ()
        return (*ALWAYS, *access, *self.problems)


def example(summary: str, name: str) -> Example:
    """The example in ``examples/name.json``."""
    text = files("wrung_service.api").joinpath("examples", f"{name}.json").read_bytes()
    return Example(summary=summary, value=msgspec.json.decode(text))


def text_example(summary: str, name: str) -> Example:
    """The example in ``examples/name``, as text."""
    text = files("wrung_service.api").joinpath("examples", name).read_text(encoding="utf-8")
    return Example(summary=summary, value=text)
