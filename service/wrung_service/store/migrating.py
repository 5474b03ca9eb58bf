"""Brings a database to the newest revision, and says whether one is there and has its rules."""

import os
from importlib.resources import files
from typing import TYPE_CHECKING, Final

import sqlalchemy as sa
from sqlalchemy import exc

from wrung_service.store.engine import Store, database_url
from wrung_service.store.errors import (
    StateError,
    TakenError,
    UnavailableError,
    UnfitStoreError,
    UnknownError,
)
from wrung_service.store.failures import translated
from wrung_service.store.rules import missing_rules
from wrung_service.store.servers import check_server, state_of, words_of

# Alembic is loaded where it is used: it takes a tenth of a start, and most have no store.
if TYPE_CHECKING:
    from alembic.config import Config
    from alembic.script import ScriptDirectory

_APPENDED_TO: Final = frozenset({"history"})
_OVERLAPPING: Final = (
    "A block is promised twice at one time already, so the rule against it cannot be made, and "
    "nothing was changed. `wrung doctor` names the promises. Decide who has the block, free the "
    "other promise (UPDATE promise SET released_at = now() WHERE n = its number), run "
    "`wrung migrate`, and plan the other plan anew."
)
_NO_RIGHT: Final = "42501"
_NOT_THE_OWNER: Final = (
    "The role may not do that, and nothing was changed. Migrate as the owner of the database.\n{}"
)
_REFUSED: Final = (
    "The database refuses the change, and nothing was changed. Where it has tables of another "
    "program, give it a database of its own.\n{}"
)
_READ_ONLY: Final = frozenset({"alembic_version"})


def migrate(url: str, revision: str = "head") -> None:
    """Bring the database to the newest revision, or to a later one than it has.

    Makes the tables of an empty one.

    Raises:
        UnfitStoreError: with what to do about it: the server is too old, there is something of
            another program, promises overlap already, and so on.
        UnavailableError: the database does not do its work now.
    """
    from alembic import command  # noqa: PLC0415 - see above

    config = _config()
    config.attributes["url"] = database_url(url)
    try:
        with translated():
            command.upgrade(config, revision)
    except TakenError:
        raise UnfitStoreError(_OVERLAPPING) from None
    except UnavailableError as error:
        if state_of(error.__cause__) != _NO_RIGHT:
            raise
        raise UnfitStoreError(_NOT_THE_OWNER.format(error.words)) from error
    except exc.DBAPIError as error:
        # Whatever it is, the database is not as it must be: the statements are tried ones.
        raise UnfitStoreError(_REFUSED.format(words_of(error))) from error


def check_can_migrate(connection: sa.Connection) -> None:
    """Refuse a database that this version cannot bring to its newest revision.

    Raises:
        UnfitStoreError: with what to do about it.
    """
    check_server(connection)
    found = revision_of(connection)
    if found is not None and found not in revisions():
        raise UnfitStoreError(_other_revision(found))


def newest_revision() -> str:
    """The revision that this version of the service needs."""
    head = _scripts().get_current_head()
    if head is None:
        raise AssertionError("the package has no migrations")
    return head


def revisions() -> tuple[str, ...]:
    """All of them, the newest first."""
    return tuple(each.revision for each in _scripts().walk_revisions())


def revision_of(connection: sa.Connection) -> str | None:
    """The revision of a database; None if it is empty."""
    from alembic.runtime.migration import MigrationContext  # noqa: PLC0415 - see above

    return MigrationContext.configure(connection).get_current_revision()


def is_made(url: str) -> bool:
    """Whether there is a file of SQLite with something in it; of PostgreSQL only a look tells."""
    parsed = database_url(url)
    if parsed.get_backend_name() != "sqlite":
        return True
    try:
        return os.stat(str(parsed.database)).st_size > 0  # noqa: PTH116 - as in `OneFile`
    except OSError:
        return False


def is_older(found: str | None) -> bool:
    """Whether a revision is one that this version knows how to change into the newest."""
    return found in revisions()[1:]


def check_store(store: Store) -> None:
    """Refuse a database that is not of the newest revision, or lacks a rule.

    Raises:
        UnfitStoreError: with what to do about it.
        UnavailableError: the database does not do its work now.
    """
    if not is_made(store.engine.url.render_as_string(hide_password=False)):
        raise UnfitStoreError(
            f"There is no database {store.engine.url.database}. Look at the name; "
            "`wrung migrate` makes a new one."
        )
    with store.reading() as connection:
        check_server(connection)
        found, missing = revision_of(connection), missing_rules(connection)
    if found != newest_revision():
        raise UnfitStoreError(_other_revision(found))
    if missing:
        raise UnfitStoreError(
            f"The database lacks the rules {', '.join(missing)}, so it could promise a block "
            "twice or lose history. Find out who dropped them; `wrung migrate` makes them anew, "
            "and `wrung doctor` says what happened meanwhile."
        )


def _other_revision(found: str | None) -> str:
    needed = f"The database has revision {found or 'none'}, and this version needs"
    if found is None or is_older(found):
        return f"{needed} {newest_revision()}. Back it up, then run `wrung migrate`."
    return f"{needed} {newest_revision()}: a newer version, or another program, changed it."


def grant(store: Store, role: str) -> None:
    """Let a role of PostgreSQL do what the service does, and never change history.

    Raises:
        StateError: it is SQLite, which has no roles.
        UnknownError: there is no such role.
        UnavailableError: the database does not do its work now.
    """
    if store.engine.dialect.name == "sqlite":
        raise StateError("SQLite has no roles.")
    with store.writing() as connection:
        known = sa.text("SELECT 1 FROM pg_roles WHERE rolname = :role")
        if connection.execute(known, {"role": role}).first() is None:
            raise UnknownError("role", role)
        quoted = connection.dialect.identifier_preparer.quote(role)
        names = sa.inspect(connection).get_table_names()
        for name in names:
            rights = _rights(name)
            connection.exec_driver_sql(f"REVOKE ALL ON {name} FROM {quoted}")
            connection.exec_driver_sql(f"GRANT {rights} ON {name} TO {quoted}")
        connection.exec_driver_sql(f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA public TO {quoted}")


def _rights(table: str) -> str:
    if table in _APPENDED_TO:
        return "SELECT, INSERT"
    return "SELECT" if table in _READ_ONLY else "SELECT, INSERT, UPDATE, DELETE"


def _scripts() -> "ScriptDirectory":
    from alembic.script import ScriptDirectory  # noqa: PLC0415 - see above

    return ScriptDirectory.from_config(_config())


def _config() -> "Config":
    from alembic.config import Config  # noqa: PLC0415 - see above

    config = Config()
    config.set_main_option("script_location", str(files("wrung_service.store") / "migrations"))
    return config
