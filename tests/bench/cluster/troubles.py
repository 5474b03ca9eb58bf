"""What befalls an installation: each does its harm, and puts it right again before it returns."""

import time
from collections.abc import Callable
from typing import TypeAlias

from bench.crib.trouble import full, stopped

from .installation import Installation

Trouble: TypeAlias = Callable[[Installation], None]

_ONE_WAY_S = 0.02
_SKEW_S = 3600


def kill(of: Installation) -> None:
    """A replica and a worker are gone at once, and are started again after five seconds."""
    replica, worker = of.replicas[0], of.workers[0]
    replica.kill()
    worker.kill()
    time.sleep(5)
    replica.start()
    worker.start()


def end(of: Installation) -> None:
    """Another replica and worker end in good order, and are started again."""
    for each in (of.replicas[1], of.workers[1]):
        code = each.terminate()
        assert code == 0, f"{each.name} ended with {code}"
        each.start()


def stop_database(of: Installation) -> None:
    """The database ends in good order, and is back after five seconds."""
    with stopped(of.server):
        time.sleep(5)


def slow_network(of: Installation) -> None:
    """Every packet from and to the database comes 20 ms later, for fifteen seconds."""
    with of.line.slow(_ONE_WAY_S):
        time.sleep(15)


def skew(of: Installation) -> None:
    """The clock of a replica is an hour fast, and that of a worker an hour slow."""
    _restart(of, _SKEW_S)
    # Longer than a replica leaves between two looks for plans that are over.
    time.sleep(35)
    _restart(of, 0)


def _restart(of: Installation, clock_s: int) -> None:
    for each, fast_s in ((of.replicas[2], clock_s), (of.workers[1], -clock_s)):
        assert each.ended() is None, f"{each.name} has ended by itself"
        each.terminate()
        each.start(clock_s=fast_s)
    of.replicas[2].wait_until_ready()


def fill_disk(of: Installation) -> None:
    """There is not a byte left on the database's disk, for eight seconds."""
    assert of.disk is not None
    with full(of.disk):
        time.sleep(8)


TROUBLES: dict[str, Trouble] = {
    "kill": kill,
    "end": end,
    "database": stop_database,
    "network": slow_network,
    "clock": skew,
    "disk": fill_disk,
}
