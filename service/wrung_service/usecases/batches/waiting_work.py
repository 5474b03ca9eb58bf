"""What a worker has to know of the batches that it is not at."""

from collections.abc import Collection

from wrung_service.store.batches import batches
from wrung_service.store.batches.chunks import any_open
from wrung_service.store.engine import Store


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
