"""What a use case of the store may end with, beside its answer.

StoreError
├── UnknownError        there is no such thing in this site
├── ExistsError         there is one already
├── AbsentError         it is not there to be changed
├── VersionError        it was changed meanwhile
├── VersionNeededError  the change does not say which version it is meant for
├── StateError          it is not in a state for that
├── TakenError          a block is promised to another plan
├── KeyReusedError      the idempotency key came with another request before
└── UnavailableError    the database cannot be reached, is locked, or its disk is full
"""

from collections.abc import Iterable
from datetime import datetime

from msgspec import Struct

from wrung.names import or_nearest


class Holder(Struct, frozen=True, kw_only=True):
    """Who holds a block, and from when until when."""

    block: str
    plan: str | None
    job: str | None
    operation: str | None
    starts_at: datetime
    ends_at: datetime | None


class StoreError(Exception):
    """Something in the store stands against it."""


class UnknownError(StoreError):
    """There is no such thing.

    Attributes:
        kind: what was looked for, such as ``plan``.
        names: every id of which there is none.
        known: ids that there are, to say which is meant.
    """

    def __init__(self, kind: str, *names: str, known: Iterable[str] = ()) -> None:
        self.kind, self.names, self.known = kind, names, tuple(known)
        said = self.said(names[0])
        super().__init__(f"{said[:1].upper()}{said[1:]}.")

    def said(self, name: str) -> str:
        """What to say of one of the names, and which ones are near it."""
        return f"there is no {self.kind} {name!r}{or_nearest(name, self.known)}"


class ExistsError(StoreError):
    """There is such a thing already."""

    def __init__(self, kind: str, name: str) -> None:
        super().__init__(f"There is a {kind} {name!r} already.")
        self.kind, self.name = kind, name


class AbsentError(StoreError):
    """A version was named of what is not there."""

    def __init__(self, kind: str, name: str) -> None:
        super().__init__(f"There is no {kind} {name!r} to change; leave If-Match out to make it.")
        self.kind, self.name = kind, name


class VersionError(StoreError):
    """It is not the version that the change was meant for."""

    def __init__(self, kind: str, name: str) -> None:
        super().__init__(f"The {kind} {name!r} was changed meanwhile.")
        self.kind, self.name = kind, name


class VersionNeededError(StoreError):
    """The change does not say which version it is meant for."""

    def __init__(self, kind: str, name: str) -> None:
        super().__init__(f"The {kind} {name!r} is there already; send its ETag as If-Match.")
        self.kind, self.name = kind, name


class StateError(StoreError):
    """It is in a state in which that cannot be done; the message says why."""


class TakenError(StoreError):
    """Blocks are promised to others at that time; ``holders`` says which and to whom."""

    def __init__(self, holders: tuple[Holder, ...] = ()) -> None:
        super().__init__("A block that is needed is promised to another plan for that time.")
        self.holders = holders


class KeyReusedError(StoreError):
    """The same idempotency key came with another request before."""

    def __init__(self) -> None:
        super().__init__("This Idempotency-Key was sent with another request before.")


class UnavailableError(StoreError):
    """The database does not do its work now; the message says what is wrong, in a sentence.

    Attributes:
        words: what the driver said, for whoever is at the terminal; no client may see it.
    """

    def __init__(self, detail: str, retry_after: int = 5, words: str = "") -> None:
        super().__init__(detail)
        self.retry_after, self.words = retry_after, words


class UnfitStoreError(Exception):
    """The database is not one that the service may use; the message says what to do."""
