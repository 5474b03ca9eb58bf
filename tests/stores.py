"""Stores for tests: the same tests run on SQLite and on PostgreSQL.

A template is migrated once a session and copied for each test.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import LiteralString

import psycopg
import pytest

from postgres import Postgres, programs, running_postgres
from wrung_service.store.engine import Store
from wrung_service.store.migrating import migrate

KINDS = ("sqlite", "postgres")
NOT_THERE = "PostgreSQL is not installed (apt-get install postgresql, or set PG_BIN)"


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A server for the whole session, with a migrated database called ``template_store``."""
    if programs() is None:
        pytest.skip(NOT_THERE)
    with running_postgres() as server:
        _run(server, "CREATE DATABASE template_store")
        migrate(server.url("template_store"))
        yield server


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated file."""
    path = tmp_path_factory.mktemp("store") / "template.db"
    migrate(f"sqlite:///{path}")
    return path


@pytest.fixture(params=KINDS)
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of a database without tables, of this test alone, on each in turn."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.db'}"
        return
    server: Postgres = request.getfixturevalue("postgres")
    name = f"empty_{abs(hash(request.node.nodeid))}"
    _run(server, f"CREATE DATABASE {name}")
    yield server.url(name)
    _run(server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture(params=KINDS)
def store_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """The address of an empty store of this test alone, on each database in turn."""
    if request.param == "sqlite":
        path = tmp_path / "store.db"
        shutil.copy(request.getfixturevalue("sqlite_template"), path)
        yield f"sqlite:///{path}"
        return
    server: Postgres = request.getfixturevalue("postgres")
    name = f"store_{abs(hash(request.node.nodeid))}"
    _run(server, f"CREATE DATABASE {name} TEMPLATE template_store")
    yield server.url(name)
    _run(server, f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    """An empty store of this test alone, on each database in turn."""
    made = Store(store_url)
    yield made
    made.close()


def _run(server: Postgres, statement: LiteralString) -> None:
    with psycopg.connect(server.url(), autocommit=True) as connection:
        connection.execute(statement)
