"""Runs the service with its settings, and prints its document: for the command line."""

import os
import sys
from collections.abc import Generator
from contextlib import ExitStack, closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import msgspec

from wrung_service.api.inventory.bringing import Importer, take_out
from wrung_service.api.inventory.csv_form import as_json, read_lines
from wrung_service.api.problems import Refusal
from wrung_service.app import create_app
from wrung_service.beside import BesideWorker
from wrung_service.commands.looking_after import in_full
from wrung_service.observe.logs import Log, make_log
from wrung_service.observe.sink import LineSink
from wrung_service.observe.watch import Traces
from wrung_service.server import address_to_open, run
from wrung_service.settings import Settings
from wrung_service.settings_reading import unknown_variables
from wrung_service.store.backup import back_up
from wrung_service.store.checking import can_change_history
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError, UnfitStoreError
from wrung_service.store.keys import StoredKey
from wrung_service.store.migrating import (
    check_store,
    grant,
    migrate,
    newest_revision,
)
from wrung_service.store.starting import start_store
from wrung_service.usecases.examine_store import Check, examine, verify_history
from wrung_service.usecases.keys import NewKey, WantedKey, list_keys, make_key, revoke_key
from wrung_service.usecases.shelf.acting import Acting
from wrung_service.worker import BatchWorker, run_worker

_STANDARD_OUTPUT: Final = 1
_UNFIT: Final = 2
_PATIENCE_S: Final = 600
"""For a statement of a command: nobody waits for it over HTTP."""
_MOST_BYTES: Final = 67_108_864
"""Of a shelf that a command reads; nobody waits for the process meanwhile."""


def serve(settings: Settings) -> None:
    """Serve until told to end."""
    sink = LineSink(_STANDARD_OUTPUT)
    log = make_log(sink)
    # No error: an orchestrator sets some by itself for a service that is called wrung.
    if unknown := unknown_variables(os.environ):
        log.warning("unknown_settings", variables=unknown)
    if sys.stderr is not None and sys.stderr.isatty():
        # For whoever is at the terminal; with port 0 the log line says which port it became.
        address = address_to_open(settings.bind_host, settings.bind_port)
        sys.stderr.write(f"Open {address} in a browser; Ctrl-C ends the service.\n")
    store = _store(settings, log) if settings.store_url else None
    if store is not None and _could_change_history(store):
        log.warning("store_role_could_change_history", remedy="run as another role than the owner")
    beside = None
    if store is not None and settings.worker_beside:
        beside = BesideWorker(settings, store, log)
    with ExitStack() as ending:
        traces = _traces(ending) if settings.tracing == "on" else None
        app = create_app(settings, log=log, store=store, traces=traces, worker=beside)
        run(app, settings, log, sink)


def _traces(ending: ExitStack) -> Traces:
    """Takes spans, and sends the last ones in the end."""
    try:
        # Only here: most do without, and it takes a while to load.
        from wrung_service.observe.traces import RequestTraces, exporting  # noqa: PLC0415
    except ImportError:
        sys.stderr.write("wrung: tracing needs its extra: pip install '.[service,tracing]'\n")
        sys.exit(_UNFIT)
    return ending.enter_context(closing(RequestTraces(exporting())))


def work(settings: Settings, idle_seconds: float, *, name: str, with_parent: bool) -> None:
    """Answer batches until told to end."""
    sink = LineSink(_STANDARD_OUTPUT)
    log = make_log(sink)
    with closing(Store(settings.store_url)) as store:
        try:
            check_store(store)
        except (UnfitStoreError, UnavailableError) as error:
            sys.stderr.write(f"wrung: {in_full(error)}\n")
            sys.exit(_UNFIT)
        worker = BatchWorker(settings, store, log, name=name)
        run_worker(worker, settings, log, sink, idle_seconds=idle_seconds, with_parent=with_parent)


def _store(settings: Settings, log: Log) -> Store:
    """The store, fit for use; what was changed for that is logged."""
    try:
        started = start_store(settings.store_url, make=settings.missing_store == "make")
    except (UnfitStoreError, UnavailableError) as error:
        sys.stderr.write(f"wrung: {in_full(error)}\n")
        sys.exit(_UNFIT)
    if started.made:
        log.warning("store_made", file=started.store.engine.url.database)
    if started.migrated_from:
        log.warning("store_migrated", found=started.migrated_from, revision=newest_revision())
    return started.store


def _could_change_history(store: Store) -> bool:
    with store.reading() as connection:
        return can_change_history(connection)


def migrate_store(url: str, role: str | None) -> None:
    """Bring a database to the newest revision, and let ``role`` use it.

    Raises:
        StoreError: the database has no such role, or does not do its work now.
    """
    migrate(url)
    if role is not None:
        with closing(Store(url)) as store:
            grant(store, role)


def document() -> bytes:
    """The OpenAPI document, as UTF-8."""
    # It must not depend on the CPUs of the machine that prints it.
    made = create_app(Settings(solve_workers=1)).document
    return msgspec.json.format(msgspec.json.encode(made), indent=2) + b"\n"


def add_key(url: str, wanted: WantedKey, by: str) -> NewKey:
    """Make an API key in a database that has the newest revision.

    Raises:
        StoreError: its holder has two already, there is no such site, or the database does not do
            its work now.
        UnfitStoreError: the database is not one that the service may use.
    """
    with _opened(url) as store:
        return make_key(store, wanted, by=by, now=datetime.now(UTC))


def every_key(url: str) -> tuple[StoredKey, ...]:
    """All API keys, as they are kept; raises as `add_key`."""
    with _opened(url) as store:
        return list_keys(store)


def end_key(url: str, key_id: str, by: str) -> None:
    """End an API key at once; raises as `add_key`."""
    with _opened(url) as store:
        revoke_key(store, key_id, by=by, now=datetime.now(UTC))


def examine_store(url: str) -> tuple[Check, ...]:
    """Whether the database is as it must be.

    Raises:
        UnavailableError: it does not do its work now, or is not there.
    """
    with closing(_store_of_a_command(url)) as store:
        return examine(store)


def verify_store_history(url: str, site: str | None) -> tuple[Check, ...]:
    """Whether the history of a site, or of all, is as it was written; raises as `examine_store`."""
    # Also where a rule is missing: then most of all somebody wants to know.
    with closing(_store_of_a_command(url)) as store:
        return verify_history(store, site)


def back_up_store(url: str, target: Path) -> None:
    """Copy the database into a new file.

    Raises:
        BackupError: no copy was made.
        UnavailableError: the database does not do its work now.
    """
    back_up(url, target)


def export_shelf(url: str, site: str, *, as_csv: bool) -> bytes:
    """The whole shelf of a site; raises as `add_key`."""
    with _opened(url) as store:
        return take_out(store, site, as_csv=as_csv)


def shelf_from_csv(data: bytes) -> bytes:
    """The same shelf as JSON; raises ValueError for what it refuses."""
    try:
        return as_json(read_lines(data), {})
    except Refusal as refusal:
        raise ValueError(refusal.detail) from None


def import_shelf(  # noqa: PLR0913 - what the command's options say
    url: str, site: str, shelf: bytes, *, by: str, as_csv: bool, preview: bool
) -> bytes:
    """What became of a shelf, as JSON; raises as `add_key`, and ValueError for what it refuses."""
    importer = Importer(_MOST_BYTES)
    acting = Acting(who=by, at=datetime.now(UTC))
    try:
        with _opened(url) as store:
            report = importer.bring(store, site, shelf, acting, as_csv=as_csv, preview=preview)
    except Refusal as refusal:
        said = [f"{each.pointer or 'the file'}: {each.detail}" for each in refusal.errors]
        raise ValueError("\n  ".join([refusal.detail, *said])) from None
    return msgspec.json.format(msgspec.json.encode(report), indent=2) + b"\n"


@contextmanager
def _opened(url: str) -> Generator[Store, None, None]:
    store = _store_of_a_command(url)
    try:
        check_store(store)
        yield store
    finally:
        store.close()


def _store_of_a_command(url: str) -> Store:
    return Store(url, statement_s=_PATIENCE_S)
