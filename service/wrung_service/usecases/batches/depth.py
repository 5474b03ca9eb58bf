"""How much waits for workers."""

from collections.abc import Collection

from wrung_service.store.batches import batches
from wrung_service.store.batches.batches import Waiting
from wrung_service.store.batches.chunks import any_open
from wrung_service.store.engine import Store


def queue_depth(store: Store) -> Waiting:
    """What waits for workers, or is with them: batches, requests, and since when.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        return batches.waiting(connection)


def anything_to_do(store: Store) -> bool:
    """Whether a worker would find something to do, now or when another one is gone.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        return any_open(connection)


def ended_among(store: Store, names: Collection[str]) -> frozenset[str]:
    """Which of these batches have ended, or are gone.

    Raises:
        UnavailableError: the database does not do its work now.
    """
    with store.reading() as connection:
        return batches.ended_among(connection, list(names))
