"""A database file that is removed, and one that is put in its place."""

import shutil
from pathlib import Path

import pytest

from store.rows import add_site
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError
from wrung_service.store.sites import get_site


@pytest.fixture
def path(tmp_path: Path, sqlite_template: Path) -> Path:
    """An empty store."""
    return Path(shutil.copy(sqlite_template, tmp_path / "store.db"))


def test_nothing_is_kept_in_a_file_that_is_gone(path: Path) -> None:
    """An open connection would take it, and nobody would find it again."""
    store = Store(f"sqlite:///{path}")
    with store.writing() as connection:
        add_site(connection, "before")
    for each in path.parent.glob("store.db*"):
        each.rename(each.with_name(f"aside-{each.name}"))

    for _ in range(3):
        with pytest.raises(UnavailableError):
            store.write(lambda connection: add_site(connection, "lost"))
        with pytest.raises(UnavailableError), store.reading():
            pass
    assert not path.exists()

    for each in path.parent.glob("aside-*"):
        each.rename(each.with_name(each.name.removeprefix("aside-")))
    with store.writing() as connection:
        get_site(connection, "before")
        add_site(connection, "after")
    store.close()


def test_a_backup_that_is_put_back_is_used_without_a_restart(
    path: Path, sqlite_template: Path
) -> None:
    """From the next transaction on."""
    store = Store(f"sqlite:///{path}")
    with store.writing() as connection:
        add_site(connection, "old")
    restored = path.with_name("restored.db")
    shutil.copy(sqlite_template, restored)
    other = Store(f"sqlite:///{restored}")
    with other.writing() as connection:
        add_site(connection, "restored")
    other.close()
    for each in path.parent.glob("store.db*"):
        each.unlink()
    restored.rename(path)

    with store.reading() as connection:
        assert get_site(connection, "restored").id == "restored"
    store.close()
