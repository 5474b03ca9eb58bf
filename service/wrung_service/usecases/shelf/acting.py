"""Who changes something, when, and which version of it they mean."""

from datetime import datetime

from msgspec import Struct

from wrung_service.store.errors import AbsentError, ExistsError, VersionError, VersionNeededError


class Precondition(Struct, frozen=True, kw_only=True):
    """Which version a change is meant for (RFC 9110, 13.1.1 and 13.1.2).

    Attributes:
        versions: one of these; None for any.
        any_version: whichever is there.
        absent: only if there is none yet.
    """

    versions: frozenset[int] | None = None
    any_version: bool = False
    absent: bool = False

    def check(self, kind: str, name: str, version: int | None, *, same: bool) -> None:
        """Let a change go on, or refuse it; ``version`` is None where there is nothing yet.

        A change that was made already may be sent again with the version that it was meant for,
        as its answer may have been lost.

        Raises:
            ExistsError: it must not be there, and is.
            AbsentError: a version was named, and there is none.
            VersionError: it is another version.
            VersionNeededError: it is there, and no version was named.
        """
        if version is None:
            if self.versions is not None or self.any_version:
                raise AbsentError(kind, name)
            return
        if self.absent:
            raise ExistsError(kind, name)
        if same or self.any_version:
            return
        if self.versions is None:
            raise VersionNeededError(kind, name)
        if version not in self.versions:
            raise VersionError(kind, name)


class Acting(Struct, frozen=True, kw_only=True):
    """Who acts, when, why if they say so, and on which version; history names the first three."""

    who: str
    at: datetime
    why: str | None = None
    when: Precondition = Precondition()
