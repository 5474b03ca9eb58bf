"""Who may do what: looks at each request before its handler does."""

import asyncio
import base64
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from litestar import Response

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import Caller, admit
from wrung_service.api.clients import address_of
from wrung_service.api.operations import OPERATION, PAGE_SCOPE, Operation
from wrung_service.api.problem_types import (
    FORBIDDEN,
    ISSUER_UNAVAILABLE,
    NOT_FOUND,
    UNAUTHORIZED,
)
from wrung_service.api.problems import Refusal
from wrung_service.api.rates import Rates
from wrung_service.api.storing import StoreDoor
from wrung_service.api.strictness import refuse_unknown_parameters
from wrung_service.observe.lines import current_line
from wrung_service.settings import Settings
from wrung_service.usecases.issuers import ASK_AGAIN_S, Issuer, IssuerError
from wrung_service.usecases.keys import known_key, looks_like_key
from wrung_service.usecases.scopes import Scope, allowed_by

if TYPE_CHECKING:
    from wrung_service.usecases.tokens import TokenReader

KEY_COOKIE: Final = "wrung_key"
"""Holds the key of whoever looks at pages of the crib; only these pages read it."""
_BASIC: Final = 'Basic realm="wrung", charset="UTF-8"'
_LONGEST: Final = 8192
"""Characters of a key or token; more is nobody's."""


class Admission:
    """Admits a request, or refuses it; and tells who sent it."""

    def __init__(
        self, settings: Settings, door: StoreDoor | None, clock: Callable[[], datetime]
    ) -> None:
        self._asks = settings.access == "required"
        self._door = door
        self._tokens = _reader(settings) if settings.oauth_issuer else None
        self._rates = Rates(settings.requests_per_minute)
        self._clock = clock

    async def __call__(self, request: HttpRequest) -> Response[bytes] | None:
        """Let the request pass to its handler.

        Raises:
            Refusal: 401 without a valid key or token, 403 if it does not allow this, 404 for
                another site than its own, 429 for too many requests, 400 for unknown parameters.
        """
        scope = _scope_of(request.route_handler.opt)
        # Probes, the document, and pages without a crib hold nothing of anybody's.
        if self._asks and scope is not None:
            admit(await self._admitted(request, scope))
        return await refuse_unknown_parameters(request)

    async def _admitted(self, request: HttpRequest, scope: Scope) -> Caller:
        caller = await self._caller(request)
        self._rates.count(caller.name)
        if scope not in caller.scopes:
            detail = f"This needs the scope {scope}, which the key or token lacks."
            challenge = f'Bearer error="insufficient_scope", scope="{scope}"'
            raise Refusal(FORBIDDEN, detail, headers={"WWW-Authenticate": challenge})
        site = request.path_params.get("site_id")
        if site is not None and not caller.sees(site):
            # As for a site that is not there: nobody learns of the sites of others.
            raise Refusal(NOT_FOUND, f"There is no site {site!r}.")
        return caller

    async def _caller(self, request: HttpRequest) -> Caller:
        text = _credentials(request)
        if text is None:
            detail = "Send a key or token: `Authorization: Bearer ...`."
            challenge = _BASIC if _takes_basic(request) else "Bearer"
            raise Refusal(UNAUTHORIZED, detail, headers={"WWW-Authenticate": challenge})
        caller = await self._known(text, address_of(request))
        if caller is None:
            # Whoever guesses is slowed down like whoever asks too often.
            self._rates.count(f"address {address_of(request)}")
            challenge = _BASIC if _takes_basic(request) else 'Bearer error="invalid_token"'
            detail = "The key or token is not valid, or no longer."
            raise Refusal(UNAUTHORIZED, detail, headers={"WWW-Authenticate": challenge})
        current_line().caller = caller.name
        return caller

    async def _known(self, text: str, address: str) -> Caller | None:
        """Asks in threads, for the database and the issuer may take their time."""
        if not looks_like_key(text):
            return await asyncio.to_thread(self._bearer, text)
        if self._door is None:
            return None
        now = self._clock()
        key = await self._door.ask(address, lambda store: known_key(store, text, now))
        if key is None:
            return None
        sites = None if key.site_id is None else frozenset({key.site_id})
        name = f"{key.holder} ({key.id})"
        return Caller(name=name, sites=sites, scopes=allowed_by(key.scopes))

    def _bearer(self, text: str) -> Caller | None:
        try:
            token = self._tokens.read(text) if self._tokens else None
        except IssuerError as error:
            headers = {"Retry-After": str(ASK_AGAIN_S)}
            raise Refusal(ISSUER_UNAVAILABLE, str(error), headers=headers) from error
        if token is None:
            return None
        name = f"client {token.client}"
        return Caller(name=name[:100], sites=token.sites, scopes=allowed_by(token.scopes))


def _scope_of(options: Mapping[str, Any]) -> Scope | None:
    """What a route needs; None for nothing."""
    operation = options.get(OPERATION)
    return operation.scope if isinstance(operation, Operation) else options.get(PAGE_SCOPE)


def _credentials(request: HttpRequest) -> str | None:
    """The key or token of a request, or of the cookie of a page; None if there is none."""
    # Never from a cookie for the API: browsers send it along, whoever made them ask.
    if PAGE_SCOPE in request.route_handler.opt and KEY_COOKIE in request.cookies:
        return request.cookies[KEY_COOKIE][:_LONGEST] or None
    given = request.headers.get("authorization", "")
    scheme, _, credentials = given.partition(" ")
    if len(given) > _LONGEST:
        return None
    if scheme.lower() == "bearer":
        return credentials.strip() or None
    if scheme.lower() == "basic" and _takes_basic(request):
        return _password(credentials.strip()) or None
    return None


def _takes_basic(request: HttpRequest) -> bool:
    operation = request.route_handler.opt.get(OPERATION)
    return isinstance(operation, Operation) and operation.basic


def _password(pair: str) -> str:
    """What stands behind the name (RFC 7617, 2); empty if it cannot be read."""
    try:
        return base64.b64decode(pair, validate=True).decode().partition(":")[2]
    except ValueError:
        return ""


def _reader(settings: Settings) -> "TokenReader":
    # Only here: what checks signatures takes 8 MB, and most services ask for keys of their own.
    from wrung_service.usecases.tokens import TokenReader  # noqa: PLC0415

    issuer = Issuer(
        name=settings.oauth_issuer,
        jwks_url=settings.oauth_jwks_url,
        audience=settings.oauth_audience,
    )
    return TokenReader(issuer)
