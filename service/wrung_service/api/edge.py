"""The outermost layer: prefix, ids, HEAD, full ``Allow`` and ``Vary``, and the canonical line."""

import re
from collections.abc import Iterable, Mapping
from typing import Final
from uuid import uuid4

from litestar.enums import ScopeType
from litestar.types import ASGIApp, HTTPScope, Message, Receive, Scope, Send

from wrung_service.observe.lines import CanonicalLine, begin_line
from wrung_service.observe.watch import Watch

# It goes into a header and into the log: nothing invisible, and nothing long.
_REQUEST_ID: Final = re.compile(rb"[!-~]{1,64}")
# W3C Trace Context, 3.2: version, trace, parent, flags; later versions may say more behind them.
_TRACEPARENT: Final = re.compile(
    rb"(?!ff)[0-9a-f]{2}-(?P<trace>[0-9a-f]{32})-(?P<parent>[0-9a-f]{16})"
    rb"-(?P<flags>[0-9a-f]{2})(?P<more>-.*)?"
)
_SAMPLED: Final = 1
"""The flag of traces that are recorded."""
_NO_ID: Final = re.compile(rb"0+")
_FIXED_HEADERS: Final = [(b"x-content-type-options", b"nosniff")]
_POLICY: Final = b"content-security-policy"
# Of what is no page. A drawing, opened by itself, has styles; browsers show no PDF under it.
_NO_PAGE: Final = b"default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"


class Edge:
    """Wraps the application.

    Litestar answers HEAD with 405 and lists one handler's method on OPTIONS (its issue 4169), and
    its middleware does not see requests that match no route. So this stands outside.
    """

    def __init__(
        self, app: ASGIApp, methods: Mapping[str, str], watch: Watch, *, prefix: str, vary: str
    ) -> None:
        """``vary`` are headers of requests that every answer depends on, with commas."""
        self._app = app
        self.methods = methods
        self._watch = watch
        self._prefix = prefix
        self._vary = vary

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one connection."""
        if scope["type"] != ScopeType.HTTP:
            await self._app(scope, receive, send)
            return
        # A copy: the server must go on to know that HEAD was asked.
        inner = self._inner(scope)
        answer = _Answer(scope["method"], inner, self.methods, self._vary, send)
        begin_line(answer.line)
        try:
            await self._app(inner, receive, answer.send)
        finally:
            # Even if the application crashed or was cancelled: each request has its line.
            answer.line.route = _route(inner)
            self._watch.over(answer.line)

    def _inner(self, scope: HTTPScope) -> HTTPScope:
        """As the application takes it: GET for HEAD, and the path without the prefix."""
        inner = scope.copy()
        if inner["method"] == "HEAD":
            inner["method"] = "GET"
        # Some proxies take the prefix off and some do not, so both are understood.
        if self._prefix and inner["path"].startswith(self._prefix + "/"):
            inner["path"] = inner["path"].removeprefix(self._prefix)
            inner["raw_path"] = inner["raw_path"].removeprefix(self._prefix.encode())
        return inner


class _Answer:
    """Adds to each answer what all have in common."""

    def __init__(
        self, method: str, scope: HTTPScope, methods: Mapping[str, str], vary: str, send: Send
    ) -> None:
        self.line = CanonicalLine(request_id=_request_id(scope), method=method)
        _note_trace(self.line, scope)
        self._vary = vary
        self._scope = scope
        self._methods = methods
        self._send = send

    async def send(self, message: Message) -> None:
        """Send a message of the application on its way."""
        if message["type"] == "http.response.start":
            self.line.status = message["status"]
            message["headers"] = [*self._headers(message["headers"])]
        elif message["type"] == "http.response.body" and self.line.method == "HEAD":
            # The headers stay as they are: HEAD tells how long the body of GET would be.
            message["body"] = b""
        await self._send(message)

    def _headers(self, headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
        template = _route(self._scope)
        return [
            *(
                (name, self._allow(template, value) if name.lower() == b"allow" else value)
                for name, value in headers
                if name.lower() != b"vary"
            ),
            *self._varying(headers),
            *_policy({name.lower(): value for name, value in headers}),
            (b"x-request-id", self.line.request_id.encode()),
            *_FIXED_HEADERS,
        ]

    def _varying(self, headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
        """One ``Vary``: parts of the framework overwrite one another's, or repeat them."""
        said = [value.decode("latin-1") for name, value in headers if name.lower() == b"vary"]
        parts = (part.strip().title() for part in ",".join([*said, self._vary]).split(","))
        names = ", ".join(sorted({part for part in parts if part}))
        return [(b"vary", names.encode("latin-1"))] if names else []

    def _allow(self, template: str | None, value: bytes) -> bytes:
        """Every method of the route; without a route, as after 405, only HEAD can be missing."""
        if template is not None and template in self._methods:
            return self._methods[template].encode()
        return value.replace(b"GET", b"GET, HEAD") if b"GET" in value else value


def _policy(headers: Mapping[bytes, bytes]) -> list[tuple[bytes, bytes]]:
    """What may be done with an answer that does not say it itself."""
    is_pdf = headers.get(b"content-type", b"").startswith(b"application/pdf")
    return [] if _POLICY in headers or is_pdf else [(_POLICY, _NO_PAGE)]


def _route(scope: HTTPScope) -> str | None:
    """The template that the router found; there is none if it found no route."""
    return scope["path_template"] if "path_template" in scope else None  # noqa: SIM401 - typed so


def _request_id(scope: HTTPScope) -> str:
    given = _header(scope, b"x-request-id")
    key = _header(scope, b"authorization").partition(b" ")[2].strip()
    # The id goes into the log, where no key may stand, whatever a client makes its ids of.
    if not _REQUEST_ID.fullmatch(given) or (key and key in given):
        return uuid4().hex
    return given.decode()


def _note_trace(line: CanonicalLine, scope: HTTPScope) -> None:
    """Note trace and parent; what is malformed is ignored, as Trace Context asks."""
    found = _TRACEPARENT.fullmatch(_header(scope, b"traceparent"))
    # The first version says nothing more behind its flags.
    if found is None or (found["more"] and found.string.startswith(b"00")):
        return
    if _NO_ID.fullmatch(found["trace"]) or _NO_ID.fullmatch(found["parent"]):
        return
    line.trace_id, line.parent_id = found["trace"].decode(), found["parent"].decode()
    line.sampled = bool(int(found["flags"], 16) & _SAMPLED)


def _header(scope: HTTPScope, wanted: bytes) -> bytes:
    """Its first value; empty if it is not there."""
    return next((value for name, value in scope["headers"] if name == wanted), b"")
