"""What can happen while a batch is answered."""

import signal
import time
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path

from bench.crib.trouble import frozen, killed, locked_file
from store.batch_workers import LEASE

from .shop import Batch, Ran, Shop, reading, request

_CUT_S = 8.0
_WORKERS = 3
_DEADLY = 3


def _batch(size: int) -> Batch:
    return [request(f"t{number}", number) for number in range(size)]


def killed_at_random(shop: Shop) -> Ran:
    """One of three workers is killed every two seconds or so, and replaced.

    Only once something was answered since the last time: on a busy machine workers would otherwise
    die before they have begun.
    """
    batch = _batch(shop.size)
    path = shop.post(batch)
    shop.hire(_WORKERS)
    seen = 0

    def kill() -> float:
        nonlocal seen
        before, seen = seen, shop.status(path)["answered"]
        if before == seen:
            return 0.1
        shop.chance.choice(shop.workers).kill()
        return shop.chance.uniform(1, 3)

    with reading(path, batch) as ran:
        shop.until_done(path, kill)
        done = ran()
    assert not done.problems
    return done


def frozen_and_thawed(shop: Shop) -> Ran:
    """One of three stands still for longer than its lease, again and again, and goes on then."""
    batch = _batch(shop.size)
    path = shop.post(batch)
    shop.hire(_WORKERS)
    still = list[int]()

    def freeze() -> float:
        if still:
            shop.workers[still.pop()].send(signal.SIGCONT)
        still.append(shop.chance.randrange(_WORKERS))
        shop.workers[still[0]].send(signal.SIGSTOP)
        return LEASE.total_seconds() * shop.chance.uniform(0.5, 2.5)

    with reading(path, batch) as ran:
        shop.until_done(path, freeze)
        for each in shop.workers:
            each.send(signal.SIGCONT)
        done = ran()
    assert not done.problems
    return done


def deadly(shop: Shop) -> Ran:
    """Some requests kill whoever begins them; only they are answered as that."""
    batch = _batch(shop.size // 2)
    places = shop.chance.sample(range(len(batch)), _DEADLY)
    for place in places:
        batch[place] = request("deadly", place)
    path = shop.post(batch)
    shop.hire(_WORKERS)
    with reading(path, batch) as ran:
        shop.until_done(path)
        done = ran()
    failed = sorted(each["position"] for each in done.lines if each["problem"])
    assert failed == sorted(places), (failed, places)
    assert set(done.problems) == {"worker-died"}
    return done


def cut_off(shop: Shop) -> Ran:
    """All workers lose the database for a while without a word: the line is dead, or it is locked.

    On SQLite the service is cut off, too; it says 503 meanwhile.
    """
    batch = _batch(shop.size)
    path = shop.post(batch)
    shop.hire(_WORKERS, cut_off=True)
    trouble = (
        shop.line.dead
        if shop.on_postgres
        else lambda: locked_file(Path(shop.url.removeprefix("sqlite:///")))
    )
    return _once(shop, path, batch, trouble)


def database_killed(shop: Shop) -> Ran | None:
    """PostgreSQL's processes are killed, and it comes back."""
    if not shop.on_postgres:
        return None
    batch = _batch(shop.size)
    path = shop.post(batch)
    shop.hire(_WORKERS)
    return _once(shop, path, batch, lambda: killed(shop.server))


def database_frozen(shop: Shop) -> Ran | None:
    """PostgreSQL stands still, and goes on."""
    if not shop.on_postgres:
        return None
    batch = _batch(shop.size)
    path = shop.post(batch)
    shop.hire(_WORKERS)
    return _once(shop, path, batch, lambda: frozen(shop.server))


def _once(
    shop: Shop, path: str, batch: Batch, trouble: Callable[[], AbstractContextManager[None]]
) -> Ran:
    with reading(path, batch) as ran:
        while shop.status(path)["answered"] < len(batch) // 10:
            time.sleep(0.05)
        with trouble():
            time.sleep(_CUT_S)
        shop.until_done(path)
        done = ran()
    assert not done.problems
    return done


def turns(shop: Shop) -> Ran:
    """A batch a tenth as large is posted when the large one is under way, and is done long before.

    Fails where more than three times as much of the large one is answered meanwhile.
    """
    batch = _batch(2 * shop.size)
    path = shop.post(batch)
    shop.hire(1)
    with reading(path, batch) as ran:
        while (before := shop.status(path)["answered"]) < shop.size // 4:
            time.sleep(0.05)
        small = _batch(shop.size // 5)
        other = shop.post(small)
        while shop.status(other)["state"] != "done":
            time.sleep(0.05)
        meanwhile = shop.status(path)["answered"] - before
        assert meanwhile <= 3 * len(small), (meanwhile, len(small))
        shop.until_done(path)
        return ran()


CASES: dict[str, Callable[[Shop], Ran | None]] = {
    "killed at random": killed_at_random,
    "frozen and thawed": frozen_and_thawed,
    "three deadly requests": deadly,
    "cut off": cut_off,
    "database killed": database_killed,
    "database frozen": database_frozen,
    "two batches in turn": turns,
}
