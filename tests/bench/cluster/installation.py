"""Replicas behind a balancer, workers of batches, and one PostgreSQL at the end of a line."""

import shutil
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path

from msgspec import Struct

from bench.crib.served import MM
from bench.crib.trouble import Line, on_disk, small_disk
from patience import PATIENCE_S
from postgres import Postgres, running_postgres
from store.rows import SITE, add_block, add_site
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate

from .balancer import balanced
from .processes import Process, Replica

BLOCKS = 20
_DISK = "300m"
_DRAIN_S = 1.5
"""Longer than the balancer needs to see that a replica is not ready any more."""


class Installation(Struct, frozen=True, kw_only=True):
    """What runs, and where.

    Attributes:
        database: the address of the database itself; the service reaches it through `line`.
        disk: the small disk that the database lies on, if it does.
        port: the balancer's.
        logs: the folder of the log of each process.
    """

    server: Postgres
    database: str
    line: Line
    disk: Path | None
    replicas: tuple[Replica, ...]
    workers: tuple[Process, ...]
    port: int
    balancer_pid: int
    logs: Path

    @property
    def address(self) -> str:
        """Where clients ask."""
        return f"http://127.0.0.1:{self.port}"

    def wait_until_ready(self) -> None:
        """Until every replica is."""
        for each in self.replicas:
            each.wait_until_ready()

    def wait_until_at_work(self) -> None:
        """Until every worker has answered requests of a batch.

        Raises:
            TimeoutError: one never does.
        """
        end = time.monotonic() + PATIENCE_S
        while not all('"event":"chunk"' in each.log.read_text("utf-8") for each in self.workers):
            if time.monotonic() > end:
                raise TimeoutError("a worker has nothing to do")
            time.sleep(0.2)

    def errors(self) -> str:
        """Lines of the logs that tell of faults of our own."""
        lines = [line for each in self.logs.glob("*.log") for line in each.open(encoding="utf-8")]
        return "".join(line for line in lines if "crash" in line or "Traceback" in line)

    def dead(self) -> list[str]:
        """Processes that have ended though nobody ended them."""
        return [each.name for each in (*self.replicas, *self.workers) if each.ended() is not None]


@contextmanager
def installed(  # noqa: PLR0913 - its size
    *,
    replicas: int = 3,
    workers: int = 2,
    threads: int = 1,
    sites: Sequence[str] = (SITE,),
    on_small_disk: bool = False,
    by_line: bool = True,
) -> Iterator[Installation]:
    """All of it, with some blocks at each site; ended and removed afterwards.

    Without `by_line` the database is reached directly, and nothing can befall the line.

    Raises:
        RuntimeError: PostgreSQL or the balancer is not installed.
        OSError: nothing may be mounted here, and a small disk was asked for.
    """
    with ExitStack() as stack:
        folder = Path(tempfile.mkdtemp(prefix="wrung-replicas-"))
        stack.callback(shutil.rmtree, folder, ignore_errors=True)
        disk = stack.enter_context(small_disk(_DISK)) if on_small_disk else None
        server = stack.enter_context(running_postgres(durable=True))
        database = server.url() if disk is None else on_disk(server, disk, "small")
        _fill(database, sites)
        line = Line(server.port)
        stack.callback(line.close)
        through = database.replace(f":{server.port}/", f":{line.port}/")
        url = through if by_line else database
        processes = _processes(folder, url, (replicas, workers, threads))
        for each in processes:
            stack.callback(each.kill)
            each.start()
        serving = tuple(each for each in processes if isinstance(each, Replica))
        for replica in serving:
            replica.wait_until_ready()
        port, pid = stack.enter_context(balanced([each.port for each in serving], folder))
        yield Installation(
            server=server,
            database=database,
            line=line,
            disk=disk,
            replicas=serving,
            workers=tuple(each for each in processes if not isinstance(each, Replica)),
            port=port,
            balancer_pid=pid,
            logs=folder,
        )


def _processes(folder: Path, url: str, numbers: tuple[int, int, int]) -> list[Process]:
    replicas, workers, threads = numbers
    common = ["--store-url", url, "--solve-workers", str(threads)]
    serving = [*common, "--drain-seconds", str(_DRAIN_S)]
    return [
        *(Replica(f"replica {n}", serving, folder / f"replica{n}.log") for n in range(replicas)),
        *(
            Process(f"worker {n}", ["worker", *common], folder / f"worker{n}.log")
            for n in range(workers)
        ),
    ]


def _fill(database: str, sites: Sequence[str]) -> None:
    migrate(database)
    store = Store(database)
    with store.writing() as connection:
        for site in sites:
            add_site(connection, site)
            for number in range(BLOCKS):
                nominal = (100 + number) * MM // 10
                add_block(connection, f"b{number}", site=site, nominal=nominal)
    store.close()
