"""The real service on a store of its own, and what is asked of both from outside."""

import json
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import IO, Any

import sqlalchemy as sa

from postgres import Postgres, running_postgres
from store.rows import SITE, hours
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate
from wrung_service.usecases.examine_store import examine

OVERLAPS = """SELECT count(*) FROM promise a JOIN promise b ON a.site_id = b.site_id
  AND a.block_id = b.block_id AND a.n < b.n AND a.released_at IS NULL AND b.released_at IS NULL
  AND a.starts_at < b.ends_at AND b.starts_at < a.ends_at"""
HALF = """SELECT count(*) FROM plan p WHERE
  (SELECT count(*) FROM promise q WHERE q.plan_id = p.id) <> 1
  OR (SELECT count(*) FROM history h WHERE h.subject = p.id) <> 1
  OR (SELECT count(*) FROM idempotency_key k WHERE k.location = '/v1/plans/' || p.id) <> 1"""
TWICE = "SELECT count(*) FROM (SELECT job FROM plan GROUP BY job HAVING count(*) > 1) twice"
MM = 100_000_000
_FAR = timedelta(days=36_525)
"""A hundred years: the service goes by a real clock, for which no plan may be over."""


@contextmanager
def databases(*, durable: bool = True) -> Iterator[tuple[dict[str, str], Postgres]]:
    """An empty store on each database, with what a power failure needs; and PostgreSQL's server."""
    folder = Path(tempfile.mkdtemp(prefix="wrung-bench-"))
    try:
        with running_postgres(durable=durable) as server:
            urls = {"SQLite": f"sqlite:///{folder}/crib.db", "PostgreSQL": server.url()}
            for url in urls.values():
                migrate(url)
            yield urls, server
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextmanager
def served(
    url: str, *, workers: int = 2, lines: list[dict[str, Any]] | None = None
) -> Iterator[tuple[str, "subprocess.Popen[bytes]"]]:
    """The real service on that store."""
    process = subprocess.Popen(  # noqa: S603 - our own service
        [
            sys.executable,
            "-m",
            "wrung_service",
            "serve",
            "--port",
            "0",
            "--solve-workers",
            str(workers),
            "--queue-length",
            "1000",
            "--max-blocks",
            "10000",
            "--max-connections",
            "2000",
            "--store-url",
            url,
        ],
        stdout=subprocess.PIPE,
    )
    try:
        assert process.stdout
        for line in process.stdout:
            said = json.loads(line)
            if said["event"] == "listening":
                break
        kept = [] if lines is None else lines
        threading.Thread(target=_keep, args=(process.stdout, kept), daemon=True).start()
        yield said["url"].rstrip("/"), process
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
            process.wait(60)


def _keep(log: IO[bytes], lines: list[dict[str, Any]]) -> None:
    """Read the rest; only its reader closes it, as another thread would break a line off."""
    with log:
        lines.extend(map(json.loads, log))


def plan_of(number: int, length: str, start: float, **members: object) -> dict[str, Any]:
    """The body of a plan for an hour."""
    return {
        "unit": "mm",
        "crib": {
            "site": SITE,
            "needed_from": (hours(start) + _FAR).isoformat(),
            "needed_until": (hours(start + 1) + _FAR).isoformat(),
        },
        "job": f"job-{number}",
        "time_limit_ms": 60_000,
        "targets": [{"kind": "length", "ref": "t", "length": length}],
        **members,
    }


def counted(url: str, statement: str) -> int:
    """What a query counts, by a connection of its own and none of our code."""
    engine = sa.create_engine(url.replace("postgresql://", "postgresql+psycopg://"))
    with engine.connect() as connection:
        found = int(connection.exec_driver_sql(statement).scalar_one())
    engine.dispose()
    return found


def doctor(url: str) -> str:
    """Rules, promises and the chain of history, as an operator would look."""
    store = Store(url)
    wrong = [f"{each.name}: {each.found}" for each in examine(store) if not each.right]
    store.close()
    return "; ".join(wrong) or "all right"


def ids(url: str) -> list[str]:
    """Those of all plans that are stored."""
    store = Store(url)
    with store.reading() as connection:
        found = list(connection.execute(sa.select(tables.plan.c.id)).scalars())
    store.close()
    return found
