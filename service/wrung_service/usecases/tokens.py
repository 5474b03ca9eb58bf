"""OAuth 2.0 access tokens of an external issuer: JSON Web Tokens (RFC 9068)."""

import time
from collections.abc import Mapping
from typing import Any, Final, cast

import jwt

from wrung_service.usecases.issuers import ASK_AGAIN_S, Issuer, IssuerError, Token

_ALGORITHMS: Final = ("RS256", "RS384", "RS512", "PS256", "ES256", "ES384", "EdDSA")
"""Only with public keys: with a shared secret, whoever can check a token could make one."""
_TIMEOUT_S: Final = 5
_KEYS_KEPT_S: Final = 300
_CLOCKS_APART_S: Final = 30
SITES_CLAIM: Final = "wrung_sites"
EVERY_SITE: Final = "*"


class _Keys(jwt.PyJWKClient):
    """The issuer's keys, which one thread at a time fetches, and none soon after a failure."""

    _rests_until = 0.0

    def fetch_data(self) -> object:
        # Else everybody who waited for an issuer that hangs would wait for it once more.
        if time.monotonic() < self._rests_until:
            raise jwt.PyJWKClientConnectionError("It failed a moment ago.")
        try:
            return super().fetch_data()
        except (jwt.PyJWTError, ValueError) as error:  # ValueError: it is no JSON
            self._rests_until = time.monotonic() + ASK_AGAIN_S
            raise jwt.PyJWKClientConnectionError("It sent no keys.") from error


class TokenReader:
    """Checks tokens; keeps the issuer's keys for some minutes."""

    def __init__(self, issuer: Issuer) -> None:
        self._issuer = issuer
        self._keys = _Keys(
            issuer.jwks_url,
            lifespan=_KEYS_KEPT_S,
            timeout=_TIMEOUT_S,
            cooldown_duration=ASK_AGAIN_S,
        )

    def read(self, text: str) -> Token | None:
        """What the token says; None if it is not valid here and now. May ask the issuer.

        Raises:
            IssuerError: its keys could not be had.
        """
        try:
            key = self._keys.get_signing_key_from_jwt(text)
            return _token(self._claims(text, key))
        except jwt.PyJWKClientConnectionError as error:
            raise IssuerError("The keys of the token's issuer could not be fetched.") from error
        except (jwt.PyJWTError, UnicodeEncodeError):
            return None

    def _claims(self, text: str, key: jwt.PyJWK) -> Mapping[str, Any]:
        return jwt.decode(
            text,
            key,
            algorithms=list(_ALGORITHMS),
            audience=self._issuer.audience,
            issuer=self._issuer.name,
            leeway=_CLOCKS_APART_S,
            options={"require": ["exp", "iss", "aud"]},
        )


def _token(claims: Mapping[str, Any]) -> Token | None:
    """Tokens of the client credentials grant name the client; ``sub`` is the same there."""
    client = claims.get("client_id") or claims.get("azp") or claims.get("sub")
    scope = claims.get("scope", "")
    if not isinstance(client, str) or not isinstance(scope, str):
        return None
    return Token(client=client, scopes=scope, sites=_sites(claims.get(SITES_CLAIM, "")))


def _sites(said: object) -> frozenset[str] | None:
    """A token that names no site opens none: an issuer has to say so if all are meant."""
    if isinstance(said, str):
        sites = frozenset(said.split())
    elif isinstance(said, list):
        sites = frozenset(str(each) for each in cast("list[object]", said))
    else:
        sites = frozenset[str]()
    return None if EVERY_SITE in sites else sites
