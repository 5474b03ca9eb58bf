"""What both databases refuse, whoever writes."""

import threading
from collections.abc import Callable, Sequence

import pytest
import sqlalchemy as sa

from store.rows import SITE, START, add_plan, add_promise, add_site, hours
from wrung_service.store import history, tables
from wrung_service.store.engine import Store
from wrung_service.store.errors import TakenError
from wrung_service.store.rules import APPEND_ONLY, rules_of

FIRST = (2.0, 4.0)


@pytest.mark.parametrize(
    ("window", "held"),
    [
        ((4, 5), True),
        ((1, 2), True),
        ((3, 5), False),
        ((1, 3), False),
        ((2.5, 3), False),
        ((1, 9), False),
        ((2, 4), False),
    ],
)
def test_a_block_is_promised_once_at_a_time(
    store: Store, window: tuple[float, float], *, held: bool
) -> None:
    """One may start when another ends; anything more is refused."""
    promised(store, FIRST)

    if held:
        add_second(store, window)
    else:
        with pytest.raises(TakenError):
            add_second(store, window)

    with store.reading() as connection:
        assert overlaps(connection) == 0


def test_a_released_promise_stands_in_nobodys_way(store: Store) -> None:
    """And it cannot come back where somebody else has the block meanwhile."""
    promised(store, FIRST)
    release = sa.update(tables.promise).where(tables.promise.c.plan_id == "first")
    with store.writing() as connection:
        connection.execute(release.values(released_at=START))
    add_second(store, FIRST)

    with pytest.raises(TakenError), store.writing() as connection:
        connection.execute(release.values(released_at=None))


def test_a_promise_cannot_be_moved_onto_another(store: Store) -> None:
    """An update is a second way to the same overlap."""
    promised(store, FIRST)
    add_second(store, (5, 6))

    with pytest.raises(TakenError), store.writing() as connection:
        connection.execute(
            sa.update(tables.promise)
            .where(tables.promise.c.plan_id == "second")
            .values(starts_at=hours(3))
        )


def test_other_sites_have_blocks_of_the_same_name(store: Store) -> None:
    """The same id elsewhere is another block."""
    promised(store, FIRST)

    with store.writing() as connection:
        add_site(connection, "south-hall", "a")
        add_plan(connection, "elsewhere", site="south-hall")
        add_promise(connection, "elsewhere", "a", FIRST, site="south-hall")


def test_history_is_only_added_to(store: Store) -> None:
    """Nobody changes what happened, by no statement that the database knows."""
    with store.writing() as connection:
        add_site(connection)
        history.append(connection, event("made"))

    for change in (
        "UPDATE history SET who = 'nobody'",
        "DELETE FROM history",
        "INSERT OR REPLACE INTO history SELECT * FROM history"
        if store.on_sqlite
        else "TRUNCATE history",
    ):
        with pytest.raises(sa.exc.DBAPIError, match=APPEND_ONLY), store.writing() as connection:
            connection.exec_driver_sql(change)


def test_a_race_for_one_block_has_one_winner(store: Store) -> None:
    """Counted by a query that knows nothing of the rule."""
    won = race(store)

    assert sum(won) == 1
    with store.reading() as connection:
        assert overlaps(connection) == 0


def test_without_the_rule_the_race_promises_twice(store: Store) -> None:
    """The test above would see it: this is its proof."""
    with store.writing() as connection:
        for name in rules_of(connection):
            if name.startswith("promise"):
                connection.exec_driver_sql(
                    f"DROP TRIGGER {name}"
                    if store.on_sqlite
                    else f"ALTER TABLE promise DROP CONSTRAINT {name}"
                )

    assert sum(race(store)) > 1
    with store.reading() as connection:
        assert overlaps(connection) > 0


def promised(store: Store, window: tuple[float, float]) -> None:
    """A first plan that holds block ``a`` in the window."""
    with store.writing() as connection:
        add_site(connection, SITE, "a")
        add_plan(connection, "first")
        add_promise(connection, "first", "a", window)


def add_second(store: Store, window: tuple[float, float]) -> None:
    """A second plan that wants the same block."""
    with store.writing() as connection:
        add_plan(connection, "second")
        add_promise(connection, "second", "a", window)


def race(store: Store, runners: int = 8) -> Sequence[bool]:
    """Who got the block, of several who want it at one time."""
    with store.writing() as connection:
        add_site(connection, SITE, "a")
    start = threading.Barrier(runners)
    won = [False] * runners

    def run(number: int) -> None:
        start.wait()
        try:
            store.write(wanting(f"plan-{number}"))
        except TakenError:
            return
        won[number] = True

    threads = [threading.Thread(target=run, args=(each,)) for each in range(runners)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return won


def wanting(plan: str) -> Callable[[sa.Connection], None]:
    """A transaction that makes a plan with block ``a``."""

    def work(connection: sa.Connection) -> None:
        # As the service does: of those who wait at the constraint itself, all but one may be told
        # that they deadlock.
        held = sa.select(tables.block.c.id).where(tables.block.c.id == "a")
        connection.execute(held.with_for_update(key_share=True))
        add_plan(connection, plan)
        add_promise(connection, plan, "a", FIRST)

    return work


def overlaps(connection: sa.Connection) -> int:
    """Pairs of promises that hold one block at one time; written without the rules."""
    one, other = tables.promise.alias(), tables.promise.alias()
    query = sa.select(sa.func.count()).where(
        one.c.site_id == other.c.site_id,
        one.c.block_id == other.c.block_id,
        one.c.n < other.c.n,
        one.c.released_at.is_(None),
        other.c.released_at.is_(None),
        one.c.starts_at < other.c.ends_at,
        other.c.starts_at < one.c.ends_at,
    )
    return connection.execute(query).scalar_one()


def event(what: str) -> history.Event:
    """Something that happened to the site."""
    return history.Event(site=SITE, at=START, who="a test", what=what, kind="site", subject=SITE)
