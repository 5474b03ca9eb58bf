"""What there is to say of an external issuer of access tokens, without what reads them."""

from typing import Final

from msgspec import Struct

ASK_AGAIN_S: Final = 10
"""How long the issuer is not asked again, after keys of it that came and after a failure."""


class Issuer(Struct, frozen=True, kw_only=True):
    """Whose tokens are believed.

    Attributes:
        name: the ``iss`` that tokens must have.
        jwks_url: where its public keys are (RFC 7517).
        audience: the ``aud`` that tokens must have: the name of this service there.
    """

    name: str
    jwks_url: str
    audience: str


class Token(Struct, frozen=True, kw_only=True):
    """What a valid token says: whom it was given to, its scopes, and sites (None for all)."""

    client: str
    scopes: str
    sites: frozenset[str] | None


class IssuerError(Exception):
    """The issuer's keys could not be had."""
