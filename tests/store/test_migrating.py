"""A migrated database is what the tables say, has every rule, and is refused where it is not."""

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext

from postgres import Postgres
from store.old_rows import is_ours
from store.rows import SITE, START, add_site
from wrung_service.store import tables
from wrung_service.store.checking import can_change_history
from wrung_service.store.engine import Store
from wrung_service.store.errors import UnavailableError, UnfitStoreError
from wrung_service.store.migrating import (
    check_store,
    grant,
    migrate,
    newest_revision,
    revision_of,
)
from wrung_service.store.rules import missing_rules, rules_of
from wrung_service.store.tables import metadata
from wrung_service.store.webhooks.endpoints import get_endpoint
from wrung_service.usecases.webhooks.keep_endpoint import new_secret
from wrung_service.usecases.webhooks.sending import take_posts


def test_a_new_store_is_fit(store: Store) -> None:
    """Newest revision, every rule, and every table as it is described."""
    check_store(store)
    with store.reading() as connection:
        opts = {"compare_type": False, "include_name": lambda name, *_: is_ours(name)}
        context = MigrationContext.configure(connection, opts=opts)
        assert compare_metadata(context, metadata) == []
        assert revision_of(connection) == newest_revision()


def test_webhooks_of_the_first_revision_stay_and_work(empty_url: str) -> None:
    """What was there stays as it was, and is sent from then on."""
    migrate(empty_url, "0001")
    store = Store(empty_url)
    _fill_0001(store)

    migrate(empty_url)

    with store.reading() as connection:
        found = get_endpoint(connection, SITE, "erp")
    assert (found.events, found.due_days) == (("plan.expired",), 30)
    (post,) = take_posts(store, START, most=1, each=1)
    assert (post.delivery.message_id, post.delivery.tries) == ("msg_1", 3)
    store.close()


def _fill_0001(store: Store) -> None:
    """Rows of the first revision, in its own columns."""
    endpoint = {
        "site_id": SITE,
        "id": "erp",
        "url": "https://erp.example/hooks",
        "secret": new_secret(),
        "events": "plan.expired",
        "made_at": START,
    }
    delivery = {
        "site_id": SITE,
        "endpoint_id": "erp",
        "message_id": "msg_1",
        "event": "plan.expired",
        "body": "{}",
        "made_at": START,
        "next_try_at": START,
        "tries": 2,
    }
    with store.writing() as connection:
        add_site(connection, SITE)
        for name, row in (("webhook_endpoint", endpoint), ("webhook_delivery", delivery)):
            columns = [sa.column(each, tables.metadata.tables[name].c[each].type) for each in row]
            connection.execute(sa.insert(sa.table(name, *columns)), row)


def test_migrating_twice_changes_nothing(store_url: str) -> None:
    """Whoever starts the service again must not wait, or lose anything."""
    migrate(store_url)

    store = Store(store_url)
    check_store(store)
    store.close()


def test_a_store_without_a_rule_is_refused_until_it_is_migrated(store: Store) -> None:
    """A dropped rule would be a silent double booking."""
    with store.writing() as connection:
        name = next(iter(rules_of(connection)))
        connection.exec_driver_sql(
            f"DROP TRIGGER {name}"
            if store.on_sqlite
            else f"ALTER TABLE promise DROP CONSTRAINT {name}"
        )

    with pytest.raises(UnfitStoreError, match=name):
        check_store(store)

    migrate(store.engine.url.render_as_string(hide_password=False))
    check_store(store)


WEAKENED: dict[str, dict[str, tuple[str, ...]]] = {
    "sqlite": {
        "says nothing": (
            "DROP TRIGGER history_no_update",
            "CREATE TRIGGER history_no_update BEFORE UPDATE ON history BEGIN SELECT 1; END",
        ),
        "of some rows": (
            "DROP TRIGGER promise_overlap_insert",
            (
                "CREATE TRIGGER promise_overlap_insert BEFORE INSERT ON promise WHEN NEW.n < 0 "
                "BEGIN SELECT RAISE(ABORT, 'promise_overlap'); END"
            ),
        ),
    },
    "postgresql": {
        "switched off": ("ALTER TABLE history DISABLE TRIGGER history_no_change",),
        "of a replica only": ("ALTER TABLE history ENABLE REPLICA TRIGGER history_no_change",),
        "of some columns": (
            "DROP TRIGGER history_no_change ON history",
            (
                "CREATE TRIGGER history_no_change BEFORE DELETE OR UPDATE OF who ON history "
                "FOR EACH ROW EXECUTE FUNCTION history_is_append_only()"
            ),
        ),
        "does nothing": (
            (
                "CREATE OR REPLACE FUNCTION history_is_append_only() RETURNS trigger "
                "LANGUAGE plpgsql AS $$ BEGIN RETURN NULL; END $$"
            ),
        ),
        "of some promises": (
            "ALTER TABLE promise DROP CONSTRAINT promise_overlap",
            (
                "ALTER TABLE promise ADD CONSTRAINT promise_overlap EXCLUDE USING gist "
                "(site_id WITH =, block_id WITH =, tstzrange(starts_at, ends_at) WITH &&) "
                "WHERE (released_at IS NULL AND stack > 0)"
            ),
        ),
        "of whole plans": (
            "ALTER TABLE promise DROP CONSTRAINT promise_overlap",
            (
                "ALTER TABLE promise ADD CONSTRAINT promise_overlap EXCLUDE USING gist "
                "(site_id WITH =, plan_id WITH =, block_id WITH =, "
                "tstzrange(starts_at, ends_at) WITH &&) WHERE (released_at IS NULL)"
            ),
        ),
    },
}


def test_a_rule_that_was_weakened_is_missing_and_is_made_anew(store: Store) -> None:
    """It is compared by what it says, not by its name."""
    for name, statements in WEAKENED[store.engine.dialect.name].items():
        with store.writing() as connection:
            for each in statements:
                connection.exec_driver_sql(each)
        with pytest.raises(UnfitStoreError, match="lacks the rules"):
            check_store(store)

        migrate(store.engine.url.render_as_string(hide_password=False))

        with store.reading() as connection:
            assert missing_rules(connection) == (), name


def test_the_services_role_cannot_change_history(postgres: Postgres) -> None:
    """Neither the rows nor the rules, whatever it tries; everything else it can do."""
    owner = Store(postgres.url())
    with owner.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql("CREATE DATABASE of_a_role")
        connection.exec_driver_sql("CREATE ROLE wrung LOGIN")
    owner.close()
    migrate(postgres.url("of_a_role"))
    owner = Store(postgres.url("of_a_role"))
    grant(owner, "wrung")
    store = Store(postgres.url("of_a_role", user="wrung"))

    check_store(store)
    for each, mighty in ((store, False), (owner, True)):
        with each.reading() as connection:
            assert can_change_history(connection) is mighty
    for statement in (
        "UPDATE history SET who = 'nobody'",
        "DELETE FROM history",
        "TRUNCATE history",
        "ALTER TABLE history DISABLE TRIGGER ALL",
        "DROP TRIGGER history_no_change ON history",
        "ALTER TABLE promise DROP CONSTRAINT promise_overlap",
        "SET session_replication_role = replica",
    ):
        # Which of them are said in words of the store is no matter here.
        with (
            pytest.raises((sa.exc.ProgrammingError, UnavailableError)),
            store.writing() as connection,
        ):
            connection.exec_driver_sql(statement)
    store.close()
    owner.close()
