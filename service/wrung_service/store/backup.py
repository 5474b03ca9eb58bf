"""A consistent copy of the database, made while others write."""

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing, suppress
from pathlib import Path
from typing import Final

import sqlalchemy as sa

from wrung_service.store.engine import database_url

_PAGES_AT_A_TIME: Final = 1000
"""So that writers get their turn between them."""


class BackupError(Exception):
    """No copy was made; the message says why."""


def back_up(url: str, target: Path) -> None:
    """Copy the database into a new file: of SQLite a database, of PostgreSQL what pg_dump writes.

    Raises:
        BackupError: there is such a file, it cannot be written, or pg_dump is missing or failed.
        UnavailableError: the database does not do its work now.
    """
    if target.exists():
        raise BackupError(f"{target} is there already; a backup never replaces anything.")
    parsed = database_url(url)
    # First under another name: what has the right name is whole.
    part = target.with_name(f"{target.name}.part")
    try:
        part.unlink(missing_ok=True)
        if parsed.get_backend_name() == "sqlite":
            _copy_sqlite(parsed, part)
        else:
            _dump_postgres(parsed, part)
        _flush(part)
        part.replace(target)
    except (OSError, sqlite3.Error) as error:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise BackupError(f"No copy was made: {error}.") from error


def _copy_sqlite(url: sa.URL, part: Path) -> None:
    source_path = str(url.database)
    if not Path(source_path).is_file():
        raise BackupError(f"There is no database {source_path}.")
    with closing(sqlite3.connect(source_path)) as source, closing(sqlite3.connect(part)) as copy:
        source.backup(copy, pages=_PAGES_AT_A_TIME)


def _dump_postgres(url: sa.URL, part: Path) -> None:
    program = shutil.which("pg_dump")
    if program is None:
        raise BackupError("pg_dump is not on this machine; it comes with PostgreSQL's clients.")
    # The password goes by the environment: a command line is there for all to read.
    secret = {"PGPASSWORD": url.password} if isinstance(url.password, str) else {}
    address = url.set(drivername="postgresql", password=None).render_as_string()
    done = subprocess.run(  # noqa: S603 - the operator's own address
        [program, "--format=custom", f"--file={part}", address],
        env={**os.environ, **secret},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        part.unlink(missing_ok=True)
        raise BackupError(f"pg_dump failed: {done.stderr.strip()[:500]}")


def _flush(part: Path) -> None:
    """Only what is on the disk is a backup."""
    with part.open("rb") as file:
        os.fsync(file.fileno())
