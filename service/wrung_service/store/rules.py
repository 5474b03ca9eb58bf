"""What the database itself refuses, whoever writes: overlapping promises, and a changed history.

SQLite has triggers for both; PostgreSQL has an exclusion constraint for the first. Alembic copies
a table of SQLite to change it and drops its triggers without a word, so every migration ends with
`restore_rules`, and the service looks for them at each start.
"""

import re
from typing import Final

import sqlalchemy as sa

OVERLAP: Final = "promise_overlap"
"""Names the rule in every message of either database."""
APPEND_ONLY: Final = "history is append-only"

_TAKEN: Final = """NEW.released_at IS NULL AND EXISTS (
  SELECT 1 FROM promise p
  WHERE p.site_id = NEW.site_id AND p.block_id = NEW.block_id AND p.released_at IS NULL
    AND p.ends_at > NEW.starts_at AND p.starts_at < NEW.ends_at AND p.n IS NOT NEW.n)"""


def _refuse(name: str, when: str, table: str, condition: str | None, message: str) -> str:
    only = f" WHEN {condition}" if condition else ""
    return (
        f"CREATE TRIGGER {name} BEFORE {when} ON {table}{only} "
        f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
    )


SQLITE_RULES: Final = {
    "promise_overlap_insert": _refuse(
        "promise_overlap_insert", "INSERT", "promise", _TAKEN, OVERLAP
    ),
    "promise_overlap_update": _refuse(
        "promise_overlap_update", "UPDATE", "promise", _TAKEN, OVERLAP
    ),
    "history_no_update": _refuse("history_no_update", "UPDATE", "history", None, APPEND_ONLY),
    "history_no_delete": _refuse("history_no_delete", "DELETE", "history", None, APPEND_ONLY),
    # INSERT OR REPLACE deletes without asking the trigger above.
    "history_no_replace": _refuse(
        "history_no_replace",
        "INSERT",
        "history",
        "EXISTS (SELECT 1 FROM history h WHERE h.n = NEW.n "
        "OR (h.site_id = NEW.site_id AND h.number = NEW.number))",
        APPEND_ONLY,
    ),
}
"""By name, the statement that makes it."""

POSTGRES_RULES: Final = {
    "promise_overlap": (
        "ALTER TABLE promise ADD CONSTRAINT promise_overlap EXCLUDE USING gist "
        "(site_id WITH =, block_id WITH =, tstzrange(starts_at, ends_at) WITH &&) "
        "WHERE (released_at IS NULL)"
    ),
    "history_no_change": (
        "CREATE TRIGGER history_no_change BEFORE DELETE OR UPDATE ON history "
        "FOR EACH ROW EXECUTE FUNCTION history_is_append_only()"
    ),
    "history_no_truncate": (
        "CREATE TRIGGER history_no_truncate BEFORE TRUNCATE ON history "
        "FOR EACH STATEMENT EXECUTE FUNCTION history_is_append_only()"
    ),
}
"""By name, the statement that makes it, in the words and the order in which it is given back."""
_REFUSE: Final = (
    f" BEGIN RAISE EXCEPTION '{APPEND_ONLY}' USING ERRCODE = 'restrict_violation'; END "
)
_POSTGRES_FIRST: Final = (
    # Equality of text in a gist index, beside ranges of time.
    "CREATE EXTENSION IF NOT EXISTS btree_gist",
    (
        "CREATE OR REPLACE FUNCTION history_is_append_only() RETURNS trigger LANGUAGE plpgsql "
        f"AS $${_REFUSE}$$"
    ),
)
_POSTGRES_GONE: Final = {
    name: f"ALTER TABLE promise DROP CONSTRAINT IF EXISTS {name}"
    if statement.startswith("ALTER TABLE")
    else f"DROP TRIGGER IF EXISTS {name} ON history"
    for name, statement in POSTGRES_RULES.items()
}


def rules_of(connection: sa.Connection) -> dict[str, str]:
    """The rules that this database must have."""
    return SQLITE_RULES if connection.dialect.name == "sqlite" else POSTGRES_RULES


def restore_rules(connection: sa.Connection) -> None:
    """Make every rule that is not there, as it is written here."""
    if connection.dialect.name == "sqlite":
        for name, statement in SQLITE_RULES.items():
            connection.exec_driver_sql(f"DROP TRIGGER IF EXISTS {name}")
            connection.exec_driver_sql(statement)
        return
    for statement in _POSTGRES_FIRST:
        connection.exec_driver_sql(statement)
    for name in missing_rules(connection):
        # One that is switched off, or says something else, is still there by its name.
        connection.exec_driver_sql(_POSTGRES_GONE[name])
        connection.exec_driver_sql(POSTGRES_RULES[name])


def present_rules(connection: sa.Connection) -> dict[str, str]:
    """By name, the rules that the database has, with their statements."""
    if connection.dialect.name == "sqlite":
        found = connection.exec_driver_sql(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        )
        return {row.name: row.sql for row in found}
    found = connection.execute(_POSTGRES_PRESENT, {"refuse": _REFUSE})
    return {row.name: row.sql for row in found}


# A trigger that was switched off is no rule, nor one whose function does something else, and
# neither is a constraint that was not validated.
_POSTGRES_PRESENT: Final = sa.text("""
SELECT conname AS name, 'ALTER TABLE promise ADD CONSTRAINT ' || conname || ' '
    || pg_get_constraintdef(oid) AS sql FROM pg_constraint
  WHERE conrelid = to_regclass('promise') AND contype = 'x' AND convalidated
UNION ALL
SELECT tgname, pg_get_triggerdef(t.oid, true) FROM pg_trigger t JOIN pg_proc f ON f.oid = tgfoid
  WHERE tgrelid = to_regclass('history') AND NOT tgisinternal AND tgenabled IN ('O', 'A')
    AND f.prosrc = :refuse
""")


def missing_rules(connection: sa.Connection) -> tuple[str, ...]:
    """Names of the rules that are not there, or are not as they are written here."""
    there = present_rules(connection)
    return tuple(
        name
        for name, sql in rules_of(connection).items()
        if _squeezed(there.get(name, "")) != _squeezed(sql)
    )


def _squeezed(statement: str) -> str:
    """Without blanks and brackets, of which PostgreSQL has its own view."""
    return re.sub(r"[\s()]", "", statement)
