"""How a batch ends: by its last answer, by somebody, or by its time."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

import sqlalchemy as sa

from wrung_service.store import history
from wrung_service.store.batches.answers import Answered, add_answers
from wrung_service.store.batches.batches import (
    Batch,
    BatchState,
    count_answers,
    end_batch,
    expired,
    find_batch,
    get_batch,
    remove_batches,
)
from wrung_service.store.engine import Store

_ITSELF: Final = "wrung"
"""Stands in history for what nobody did."""


def keep_answers(
    store: Store, name: str, answers: Sequence[Answered], now: datetime, keep_for: timedelta
) -> bool:
    """Keep answers to a batch, and end it with the last one; False if it has ended.

    An answer to a request that has one, or of a batch that has ended, is dropped.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    if not answers:
        return True

    def work(connection: sa.Connection) -> bool:
        batch = find_batch(connection, name, to_change=True)
        if batch is None or not batch.going_on:
            return False
        first = add_answers(connection, name, answers)
        count_answers(connection, name, len(first), sum(each.failed for each in first))
        if batch.answered + len(first) == batch.total:
            _end(connection, name, "done", _ITSELF, now, keep_for)
        return True

    return store.write(work)


def cancel_batch(store: Store, name: str, *, who: str, now: datetime, keep_for: timedelta) -> Batch:
    """End a batch with the answers that it has; one that has ended stays as it is.

    Raises:
        UnknownError: there is none.
        UnavailableError: the database does not do its work now.
    """

    def work(connection: sa.Connection) -> Batch:
        batch = get_batch(connection, name, to_change=True)
        if batch.going_on:
            _end(connection, name, "cancelled", who, now, keep_for)
        return get_batch(connection, name)

    return store.write(work)


def expire_batches(store: Store, now: datetime, keep_for: timedelta) -> None:
    """End batches whose time is over, and remove those that were kept long enough.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        # Most of the time there is none, and reading holds nobody up.
        if not expired(connection, now):
            return

    def work(connection: sa.Connection) -> None:
        for each in expired(connection, now):
            # Looked at anew once its row is held: others may have ended or removed it meanwhile.
            batch = find_batch(connection, each.id, to_change=True)
            if batch is None:
                continue
            if batch.going_on:
                _end(connection, each.id, "expired", _ITSELF, now, keep_for)
            elif batch.expires_at <= now:
                remove_batches(connection, [each.id])

    store.write(work)


def _end(  # noqa: PLR0913, PLR0917 - who ended it, when and how
    connection: sa.Connection,
    name: str,
    state: BatchState,
    who: str,
    now: datetime,
    keep_for: timedelta,
) -> None:
    end_batch(connection, name, state, now, now + keep_for)
    note_batch(connection, get_batch(connection, name), f"batch.{state}", who, now)


def note_batch(connection: sa.Connection, batch: Batch, what: str, who: str, now: datetime) -> None:
    """Write down what happened to a batch of a site; one of its caller alone has no history."""
    if batch.site_id is None:
        return
    detail = {"total": batch.total, "answered": batch.answered, "failed": batch.failed}
    history.append(
        connection,
        history.Event(
            site=batch.site_id,
            at=now,
            who=who,
            what=what,
            kind="batch",
            subject=batch.id,
            detail=detail,
        ),
    )
