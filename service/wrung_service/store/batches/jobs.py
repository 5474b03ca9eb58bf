"""The engine on PostgreSQL: procrastinate, with one job a chunk."""

import asyncio
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from datetime import UTC, datetime
from typing import Final

import procrastinate
import sqlalchemy as sa
from procrastinate.exceptions import AlreadyEnqueued, ConnectorException
from procrastinate.jobs import Job

from wrung_service.store.batches.chunks import BegunChunk, Chunk, begin_chunk
from wrung_service.store.batches.engine import Working, until_through
from wrung_service.store.engine import Store

_QUEUE: Final = "batches"
_TASK: Final = "chunk"
_CONNECTIONS: Final = 2
_BEATS: Final = 5
"""Signs of life in the time after which a worker counts as dead."""
_AGAIN_S: Final = 1.0
"""After a fault, and between looks for jobs of which no notification came."""
_NEVER_S: Final = 86_400.0
_PATIENCE_S: Final = 10.0
"""For an answer of the database: on a line that was lost without a word none ever comes."""
_GIVEN_UP_S: Final = 3.0
LOST_EVERY_S = 60.0
"""How often each worker looks for chunks without a job."""
_LOST: Final = """
SELECT batch_id, first, turn FROM batch_chunk c WHERE state <> 'done' AND NOT EXISTS (
  SELECT 1 FROM procrastinate_jobs j WHERE j.status IN ('todo', 'doing')
    AND j.args ->> 'batch' = c.batch_id AND j.args ->> 'first' = c.first::text)
"""
_INHERITED: Final = """
SELECT id FROM procrastinate_jobs WHERE status = 'doing' AND worker_id IN (
  SELECT j.worker_id FROM procrastinate_jobs j JOIN batch_chunk c
    ON c.batch_id = j.args ->> 'batch' AND c.first::text = j.args ->> 'first'
    WHERE j.status = 'doing' AND c.state = 'doing' AND c.owner = %(owner)s)
"""
"""All jobs of the one that had a chunk under this name: of some it may not have begun the chunk."""
_LINE: Final = {"connect_timeout": 3, "tcp_user_timeout": 10_000, "keepalives_idle": 5}


class LifelessError(Exception):
    """The worker gave no sign of life, though it lives: procrastinate may not notice by itself."""


class Jobs:
    """Has procrastinate's workers take chunks."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._running = set[tuple[str, int]]()
        self._inherited = False
        url = store.engine.url.set(drivername="postgresql")
        self._url = url.render_as_string(hide_password=False)

    def submit(self, connection: sa.Connection, chunks: Sequence[Chunk]) -> None:
        """Write a job for each, in the transaction that writes the batch."""
        app = procrastinate.App(connector=procrastinate.SyncPsycopgConnector())
        jobs = [_job(each.batch, each.first, each.turn) for each in chunks]
        app.job_manager.batch_defer_jobs(jobs, connection=connection.connection.driver_connection)

    async def work(self, working: Working) -> None:
        """Run jobs until told to stop; where the database is lost, begin anew."""
        with ThreadPoolExecutor(working.places, thread_name_prefix="chunk") as threads:
            # Where procrastinate runs what is no coroutine.
            asyncio.get_running_loop().set_default_executor(threads)
            while not working.stop.is_set():
                try:
                    await self._work(working)
                # Of the driver or of the engine; whichever it is, there is nothing to lose.
                except Exception as error:  # noqa: BLE001
                    working.note(error)
                with suppress(TimeoutError):
                    async with asyncio.timeout(_AGAIN_S):
                        await working.stop.wait()

    async def _work(self, working: Working) -> None:
        """Until told to stop, or until something is wrong with the database."""
        connector = procrastinate.PsycopgConnector(
            conninfo=self._url,
            kwargs=_LINE,
            min_size=1,
            max_size=_CONNECTIONS,
            timeout=_PATIENCE_S,
        )
        app = procrastinate.App(connector=connector)
        self._register(app, working)
        try:
            async with asyncio.timeout(_PATIENCE_S):
                await app.open_async()
                await self._inherit(app, working.name)
            await self._run_until_stopped(app, working)
        finally:
            # What hangs on a dead line is left alone.
            with suppress(TimeoutError):
                async with asyncio.timeout(_GIVEN_UP_S):
                    await app.close_async()

    async def _run_until_stopped(self, app: procrastinate.App, working: Working) -> None:
        lease = working.lease.total_seconds()
        ways = [
            asyncio.create_task(_run(app, working.places, lease)),
            asyncio.create_task(self._take_over(app, lease)),
            asyncio.create_task(working.stop.wait()),
        ]
        done, _ = await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
        for each in ways:
            each.cancel()
        # When told to stop, chunks are given back first; otherwise there may be nobody to give to.
        await asyncio.wait(ways, timeout=None if working.stop.is_set() else _GIVEN_UP_S)
        for each in done:
            each.result()

    async def _inherit(self, app: procrastinate.App, name: str) -> None:
        """Let others have what the worker had whose place this one takes; later it is its own."""
        if self._inherited:
            return
        for row in await app.connector.execute_query_all_async(_INHERITED, owner=name):
            with suppress(ConnectorException):
                await app.job_manager.retry_job_by_id_async(row["id"], retry_at=datetime.now(UTC))
        self._inherited = True

    def _register(self, app: procrastinate.App, working: Working) -> None:
        @app.task(name=_TASK, queue=_QUEUE, retry=procrastinate.RetryStrategy(wait=1))
        def chunk(batch: str, first: int) -> None:
            leave, job = working.stop.is_set, (batch, first)
            begun = until_through(lambda: self._begin(batch, first, working.name), leave)
            self._running.add(job)
            try:
                # What it raises gives the job back: procrastinate has it tried again.
                if begun is not None:
                    working.run(begun, leave)
            finally:
                self._running.discard(job)

    def _begin(self, batch: str, first: int, owner: str) -> BegunChunk | None:
        return self._store.write(lambda c: begin_chunk(c, batch, first, owner))

    async def _take_over(self, app: procrastinate.App, lease: float) -> None:
        """Let others have the jobs of workers that give no sign of life; procrastinate does not.

        Raises:
            LifelessError: it is this worker that is taken for dead.
        """
        looked = time.monotonic()
        while True:
            await asyncio.sleep(lease / _BEATS)
            async with asyncio.timeout(_PATIENCE_S):
                jobs = app.job_manager
                if time.monotonic() - looked > LOST_EVERY_S:
                    await _renew_lost(app)
                    looked = time.monotonic()
                stalled = await jobs.get_stalled_jobs(queue=_QUEUE, seconds_since_heartbeat=lease)
                for each in stalled:
                    # Another worker may have been faster.
                    with suppress(ConnectorException):
                        await jobs.retry_job(each)
            if any(
                (e.task_kwargs["batch"], e.task_kwargs["first"]) in self._running for e in stalled
            ):
                raise LifelessError


def _job(batch: str, first: int, turn: int, queueing_lock: str | None = None) -> Job:
    return Job(
        id=None,
        queue=_QUEUE,
        lock=None,
        queueing_lock=queueing_lock,
        task_name=_TASK,
        task_kwargs={"batch": batch, "first": first},
        priority=-turn,
    )


async def _renew_lost(app: procrastinate.App) -> None:
    """Write jobs for open chunks that have none, as when somebody has cleared the engine's."""
    for row in await app.connector.execute_query_all_async(_LOST):
        name, first = row["batch_id"], row["first"]
        # Of several workers that see it at one time, one writes it.
        with suppress(AlreadyEnqueued):
            await app.job_manager.defer_job_async(_job(name, first, row["turn"], f"{name}/{first}"))


async def _run(app: procrastinate.App, places: int, lease: float) -> None:
    await app.run_worker_async(
        queues=[_QUEUE],
        concurrency=places,
        install_signal_handlers=False,
        fetch_job_polling_interval=_AGAIN_S,
        # Nobody aborts single jobs.
        abort_job_polling_interval=_NEVER_S,
        update_heartbeat_interval=lease / _BEATS,
        stalled_worker_timeout=lease,
        delete_jobs="successful",
    )
