"""Whether a store is as it must be: for whoever runs it, and after every restore."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Final

import sqlalchemy as sa
from msgspec import Struct

from wrung import __version__
from wrung_service.store import checking
from wrung_service.store.batches.batches import incomplete
from wrung_service.store.engine import Store
from wrung_service.store.migrating import newest_revision, revision_of
from wrung_service.store.rules import missing_rules

_MOST_APART_S: Final = 5


class Check(Struct, frozen=True, kw_only=True):
    """One thing that was looked at: whether it is right, and what was found."""

    name: str
    right: bool
    found: str


def examine(store: Store) -> tuple[Check, ...]:
    """All checks, in an order in which the first fault is the one to mend first.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        versions = f"wrung {__version__}, {checking.version_of(connection)}"
        first = (Check(name="versions", right=True, found=versions), _revision(connection))
        if not first[-1].right:
            # Its tables may be others, so nothing more can be said.
            return first
        checks = (each(connection) for each in _CHECKS)
        return (*first, *checks, *_chains(connection))


def verify_history(store: Store, site: str | None = None) -> tuple[Check, ...]:
    """Only the chains of history, of one site or of all.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        revision = _revision(connection)
        if not revision.right:
            return (revision,)
        return tuple(each for each in _chains(connection) if site in {None, each.name[8:]})


def _revision(connection: sa.Connection) -> Check:
    found, newest = revision_of(connection), newest_revision()
    return Check(name="revision", right=found == newest, found=f"{found}, needed is {newest}")


def _rules(connection: sa.Connection) -> Check:
    missing = missing_rules(connection)
    found = f"missing: {', '.join(missing)}" if missing else "all there"
    return Check(name="rules", right=not missing, found=found)


def _integrity(connection: sa.Connection) -> Check:
    faults = checking.damage(connection)
    return Check(name="integrity", right=not faults, found="; ".join(faults[:5]) or "no damage")


def _promises(connection: sa.Connection) -> Check:
    pairs = checking.overlaps(connection)
    found = "; ".join([f"{len(pairs)} of a block at one time", *pairs[:5]])
    return Check(name="promises", right=not pairs, found=found)


def _batches(connection: sa.Connection) -> Check:
    wrong = incomplete(connection)
    found = f"done without all answers: {', '.join(wrong[:5])}" if wrong else "whole"
    return Check(name="batches", right=not wrong, found=found)


def _clock(connection: sa.Connection) -> Check:
    apart = abs((checking.clock_of(connection) - datetime.now(UTC)).total_seconds())
    found = f"{apart:.1f} s apart from the database's"
    return Check(name="clock", right=apart <= _MOST_APART_S, found=found)


_CHECKS: Final[tuple[Callable[[sa.Connection], Check], ...]] = (
    _rules,
    _integrity,
    _promises,
    _batches,
    _clock,
)


def _chains(connection: sa.Connection) -> Iterator[Check]:
    for site in checking.every_site(connection):
        broken = checking.broken_at(connection, site)
        found = "whole" if broken is None else f"entry {broken} is not as it was written"
        yield Check(name=f"history {site}", right=broken is None, found=found)
