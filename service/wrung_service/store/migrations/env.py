"""Runs the revisions; Alembic executes this file."""

from typing import Any

import sqlalchemy as sa
from alembic import context
from sqlalchemy import event
from sqlalchemy.pool import NullPool

from wrung_service.store.engine import AS_TEXT
from wrung_service.store.migrating import check_can_migrate
from wrung_service.store.rules import restore_rules
from wrung_service.store.tables import metadata

_LOCK = 7_291_833
"""Of this program alone: services that start at one time migrate one after another."""


def _engine(url: sa.URL) -> sa.Engine:
    on_sqlite = url.get_backend_name() == "sqlite"
    engine = sa.create_engine(url, poolclass=NullPool, connect_args={} if on_sqlite else AS_TEXT)
    if on_sqlite:
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    return engine


def _set_up_sqlite(connection: Any, _record: object) -> None:  # noqa: ANN401 - of the driver
    connection.isolation_level = None
    # Through SQLAlchemy this would begin a transaction that Alembic then never commits.
    for pragma in ("busy_timeout=30000", "journal_mode=WAL", "synchronous=FULL"):
        connection.execute(f"PRAGMA {pragma}")
    # A table that is copied to be changed would lose the rows that refer to it.
    connection.execute("PRAGMA foreign_keys=OFF")


def _begin_sqlite(connection: sa.Connection) -> None:
    connection.exec_driver_sql("BEGIN IMMEDIATE")


def _run(connection: sa.Connection) -> None:
    check_can_migrate(connection)
    if connection.dialect.name == "postgresql":
        connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_LOCK)))
    context.configure(
        connection=connection,
        target_metadata=metadata,
        render_as_batch=True,
        transactional_ddl=True,
    )
    with context.begin_transaction():
        context.run_migrations()
        restore_rules(connection)


with _engine(context.config.attributes["url"]).begin() as opened:
    _run(opened)
