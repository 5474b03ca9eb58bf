"""Post a batch: it is kept with its requests, and workers get to know of it, or nothing is done."""

from collections.abc import Sequence

import sqlalchemy as sa
from msgspec import Struct

from wrung_service.store.batches.batches import Batch, add_batch, waiting
from wrung_service.store.batches.engine import engine_of
from wrung_service.store.engine import Store
from wrung_service.store.errors import StoreError
from wrung_service.store.idempotency import KeptAnswer, Key, keep_answer
from wrung_service.store.sites import get_site
from wrung_service.usecases.batches.ending import note_batch


class TooManyWaitingError(StoreError):
    """Whoever posts it would have more requests waiting than one may have."""


class NewBatch(Struct, frozen=True, kw_only=True):
    """A batch to be kept.

    Attributes:
        requests: each as JSON.
        key: the key that the client chose, with the answer to be kept for it, if it chose one.
        most_waiting: how many requests of one caller may wait at one time.
    """

    batch: Batch
    requests: Sequence[str]
    key: tuple[Key, KeptAnswer] | None
    most_waiting: int


def post_batch(store: Store, new: NewBatch) -> None:
    """Keep a batch.

    Raises:
        AnsweredError: another was faster with the same request and key.
        KeyReusedError: the key came with another request.
        TooManyWaitingError: too many requests of the same caller wait already.
        UnknownError: there is no such site.
        UnavailableError: the database does not do its work now.
    """
    engine, batch = engine_of(store), new.batch

    def work(connection: sa.Connection) -> None:
        if new.key is not None:
            keep_answer(connection, *new.key, batch.made_at)
        if batch.site_id is not None:
            get_site(connection, batch.site_id)
        if waiting(connection, batch.made_by).requests + batch.total > new.most_waiting:
            raise TooManyWaitingError
        engine.submit(connection, add_batch(connection, batch, new.requests))
        note_batch(connection, batch, "batch.made", batch.made_by, batch.made_at)

    store.write(work)
