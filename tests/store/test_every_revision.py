"""From every revision forward: what a service of that revision kept is there, and so are the rules.

A new revision needs nothing here: its tables are filled by what they say of themselves.
"""

import pytest
import sqlalchemy as sa

from store.old_rows import NUMBER, SITE, contents, fill
from wrung_service.store.engine import Store
from wrung_service.store.errors import TakenError
from wrung_service.store.migrating import check_store, migrate, newest_revision, revisions
from wrung_service.store.rules import APPEND_ONLY
from wrung_service.usecases.examine_store import examine


@pytest.mark.parametrize("revision", revisions())
def test_rows_of_every_table_and_the_rules_stay(empty_url: str, revision: str) -> None:
    """In every column that both have; a store of the newest revision is left as it is."""
    migrate(empty_url, revision)
    store = Store(empty_url)
    with store.writing() as connection:
        fill(connection)
        before = contents(connection)
    assert len(before) >= 12
    assert all(len(rows) == NUMBER for table in before.values() for rows in table.values())

    migrate(empty_url)

    check_store(store)
    with store.reading() as connection:
        after = contents(connection)
    for name, columns in before.items():
        kept = {column: rows for column, rows in columns.items() if column in after[name]}
        assert {column: after[name][column] for column in kept} == kept
        # A row may be changed, but none is lost.
        assert {len(rows) for rows in after[name].values()} >= {NUMBER}
    assert [each for each in examine(store) if not each.right] == []
    _rules_hold(store)
    store.close()


def test_every_revision_is_tried() -> None:
    assert revisions()[0] == newest_revision()
    assert revisions()[-1] == "0001"


def _rules_hold(store: Store) -> None:
    promise = sa.Table("promise", sa.MetaData(), autoload_with=store.engine)
    with store.writing() as connection:
        connection.execute(sa.update(promise).values(released_at=None))
        row = dict(connection.execute(sa.select(promise)).mappings().first() or {})
    del row["n"]
    with pytest.raises(TakenError), store.writing() as connection:
        connection.execute(sa.insert(promise), row)
    for statement in ("UPDATE history SET who = 'x'", "DELETE FROM history"):
        with pytest.raises(sa.exc.DBAPIError, match=APPEND_ONLY), store.writing() as connection:
            connection.exec_driver_sql(f"{statement} WHERE site_id = '{SITE}'")
