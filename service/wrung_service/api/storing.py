"""How routes reach the store: in a worker thread, and never from the event loop."""

from collections.abc import Callable, Iterator
from typing import Final, TypeVar

from wrung_service.api.bodies import HttpRequest
from wrung_service.api.callers import Caller, current_caller
from wrung_service.api.clients import client_of
from wrung_service.api.disconnects import unless_gone
from wrung_service.api.problem_types import NO_STORE
from wrung_service.api.problems import Refusal
from wrung_service.api.stacks.reading import Clock
from wrung_service.pool import SolvePool, waiting_elsewhere
from wrung_service.store.engine import Reading, Store
from wrung_service.store.errors import UnknownError
from wrung_service.store.pages import Place
from wrung_service.store.sites import list_sites
from wrung_service.usecases.crib_shelf import CribShelf, CribWanted, LookUp
from wrung_service.usecases.look_up_crib import look_up_crib

T = TypeVar("T")

_WITHOUT: Final = (
    "This service keeps no crib and no batches: its operator has set no store (WRUNG_STORE_URL)."
)

_WORKERS: Final = 8
_QUEUE: Final = 200
_LIMIT_MS: Final = 10_000
"""Half of it may be spent in the queue; the database has limits of its own."""
_MOST_NAMED: Final = 500
"""Sites that a name may be near to."""


class StoreDoor:
    """The store of this instance, if it has one.

    Its threads are not those of the searches: a list must not wait for a plan.
    """

    def __init__(self, store: Store | None) -> None:
        self._store = store
        if store is not None:
            store.while_asking = waiting_elsewhere
        self._pool = SolvePool(workers=_WORKERS, queue_length=_QUEUE)

    @property
    def there(self) -> bool:
        """Whether this instance has a store."""
        return self._store is not None

    @property
    def store(self) -> Store:
        """The store.

        Raises:
            Refusal: 404, this instance has none.
        """
        if self._store is None:
            raise Refusal(NO_STORE, _WITHOUT)
        return self._store

    async def run(self, request: HttpRequest, work: Callable[[Store], T]) -> T:
        """What ``work`` returns; it runs in a thread, and may read and write as it likes.

        Raises:
            Refusal: 404, this instance has no store; or whatever ``work`` raises.
            BusyError: no thread was free in time.
            ClientGoneError: the client is gone; what was begun is done all the same.
        """
        return await unless_gone(request.receive, self.ask(client_of(request), work))

    async def read(self, request: HttpRequest, work: Callable[[Reading], T]) -> T:
        """What ``work`` returns, which only reads; otherwise as `run`."""
        return await self.run(request, lambda store: store.read(work))

    async def ask(self, client: str, work: Callable[[Store], T]) -> T:
        """As `run`, before the body of a request is read."""
        store = self.store
        return await self._pool.run(lambda _: work(store), limit_ms=_LIMIT_MS, client=client)

    def close(self) -> None:
        """End the threads, then give back the connections."""
        self._pool.close()
        if self._store is not None:
            self._store.close()


def _seen_sites(store: Store, caller: Caller) -> Iterator[str]:
    """Those that the caller may know of, and no others, may be near to a name."""
    with store.reading() as connection:
        seen = list_sites(connection, Place(limit=_MOST_NAMED), caller.sites)
    return (each.id for each in seen.items)


def looking_up(door: StoreDoor, clock: Clock) -> LookUp:
    """Looks into the crib of this instance, from a thread that works already.

    Raises:
        Refusal: 404, this instance has no store.
    """

    def look_up(wanted: CribWanted) -> CribShelf:
        caller = current_caller()
        site, store = wanted.site, door.store
        if not caller.sees(site):
            raise UnknownError("site", site, known=_seen_sites(store, caller))
        try:
            return look_up_crib(store, wanted, now=clock())
        except UnknownError as error:
            if error.kind != "site":
                raise
            raise UnknownError("site", site, known=_seen_sites(store, caller)) from None

    return look_up
