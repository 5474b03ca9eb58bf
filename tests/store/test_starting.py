"""What a service does about its store before it serves."""

import sqlite3
from pathlib import Path

import pytest

from store.rows import add_site
from wrung_service.store import migrating
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnfitStoreError
from wrung_service.store.rules import SQLITE_RULES
from wrung_service.store.sites import get_site
from wrung_service.store.starting import start_store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where there is nothing yet."""
    return tmp_path / "crib.db"


@pytest.fixture
def url(path: Path) -> str:
    return f"sqlite:///{path}"


def test_a_mistyped_name_makes_no_store(url: str, path: Path) -> None:
    """An empty crib would look as if everything in it were gone."""
    with pytest.raises(UnfitStoreError, match=r"no database .*crib\.db.*wrung migrate"):
        start_store(url, make=False)

    assert not path.exists()


def test_an_empty_file_is_no_store(url: str, path: Path) -> None:
    path.touch()

    with pytest.raises(UnfitStoreError, match="wrung migrate"):
        start_store(url, make=False)

    assert path.stat().st_size == 0


def test_a_store_is_made_where_that_is_asked_for(url: str) -> None:
    """The first time only, and what is in it stays."""
    first = start_store(url, make=True)
    with first.store.writing() as connection:
        add_site(connection)
    first.store.close()
    again = start_store(url, make=True)

    assert (first.made, again.made) == (True, False)
    with again.store.reading() as connection:
        assert get_site(connection, "north-hall")
    again.store.close()


@pytest.mark.parametrize("make", [False, True])
@pytest.mark.parametrize("rule", SQLITE_RULES)
def test_a_rule_that_is_missing_is_not_restored_in_silence(
    url: str, path: Path, rule: str, *, make: bool
) -> None:
    """Whoever runs the service has to hear that blocks may be promised twice already."""
    migrating.migrate(url)
    _execute(path, f"DROP TRIGGER {rule}")

    for _ in range(2):
        with pytest.raises(UnfitStoreError, match=f"{rule}.*wrung migrate.*wrung doctor"):
            start_store(url, make=make)

    migrating.migrate(url)
    start_store(url, make=False).store.close()


def test_a_store_of_a_newer_version_is_left_alone(url: str, path: Path) -> None:
    """It says so, and not that migrating would help."""
    migrating.migrate(url)
    _execute(path, "UPDATE alembic_version SET version_num = '9999'")

    with pytest.raises(UnfitStoreError, match=r"9999.*newer version"):
        start_store(url, make=True)


def test_a_database_of_another_program_is_left_alone(url: str, path: Path) -> None:
    _execute(path, "CREATE TABLE tools (id)")

    with pytest.raises(UnfitStoreError, match="revision none"):
        start_store(url, make=True)

    store = Store(url)
    with store.reading() as connection:
        found = connection.exec_driver_sql("SELECT name FROM sqlite_master").scalars().all()
    store.close()
    assert found == ["tools"]


def test_an_old_store_is_migrated_and_said_so(url: str) -> None:
    """Once."""
    migrating.migrate(url, migrating.revisions()[-1])

    started = start_store(url, make=False)
    again = start_store(url, make=False)

    assert (started.migrated_from, again.migrated_from) == (migrating.revisions()[-1], None)
    started.store.close()
    again.store.close()


def _execute(path: Path, statement: str) -> None:
    connection = sqlite3.connect(path)
    connection.execute(statement)
    connection.commit()
    connection.close()
