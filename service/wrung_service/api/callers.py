"""Who asks, as far as the service knows; history names them."""

from contextvars import ContextVar
from typing import Final

from msgspec import Struct

from wrung_service.usecases.scopes import SCOPES, Scope


class Caller(Struct, frozen=True, kw_only=True):
    """Whoever sent a request.

    Attributes:
        name: stands in history, and keeps idempotency keys of callers apart.
        sites: the sites that it may see; None for all.
        scopes: what it may do.
    """

    name: str
    sites: frozenset[str] | None = None
    scopes: frozenset[Scope] = frozenset(SCOPES)

    def sees(self, site: str) -> bool:
        """Whether it may see a site; to those who may not, there is none."""
        return self.sites is None or site in self.sites


ANYBODY: Final = Caller(name="anybody")
"""Whoever asks a service that asks for no key."""


# Requests take turns in one thread, and their work goes to other threads with their context.
_caller: Final[ContextVar[Caller]] = ContextVar("wrung_caller", default=ANYBODY)


def admit(caller: Caller) -> None:
    """Make it the caller of the request that is handled in this context."""
    _caller.set(caller)


def current_caller() -> Caller:
    """Who sent the request that is being handled."""
    return _caller.get()
