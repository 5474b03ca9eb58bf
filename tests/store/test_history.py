"""History is written in the transaction of what it tells of, as one chain a site."""

from concurrent.futures import ThreadPoolExecutor

import pytest
import sqlalchemy as sa
from msgspec.structs import replace

from store.rows import SITE, START, add_site
from wrung_service.store import history, tables
from wrung_service.store.engine import Store


def test_entries_are_a_chain(store: Store) -> None:
    """Each has the hash of the one before it, however many write at one time."""
    with store.writing() as connection:
        add_site(connection, SITE)
        add_site(connection, "south-hall")

    def write(number: int) -> None:
        store.write(lambda c: history.append(c, event(number, SITE), event(-number, SITE)))
        store.write(lambda c: history.append(c, event(number, "south-hall")))

    with ThreadPoolExecutor(8) as threads:
        list(threads.map(write, range(20)))

    with store.reading() as connection:
        for site, count in ((SITE, 40), ("south-hall", 20)):
            rows = connection.execute(
                sa.select(tables.history)
                .where(tables.history.c.site_id == site)
                .order_by(tables.history.c.number)
            ).all()
            assert [row.number for row in rows] == list(range(1, count + 1))
            assert rows[0].previous == history.BEGINNING
            assert [row.previous for row in rows[1:]] == [row.hash for row in rows[:-1]]


def test_an_entry_goes_with_its_transaction(store: Store) -> None:
    """What did not happen is not told."""
    with store.writing() as connection:
        add_site(connection, SITE)

    def fail_after_writing(connection: sa.Connection) -> None:
        history.append(connection, event(1, SITE))
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        store.write(fail_after_writing)

    with store.reading() as connection:
        assert connection.execute(sa.select(tables.history)).all() == []


def test_the_hash_covers_everything() -> None:
    """A change of any member is another hash."""
    plain = event(1, SITE)
    hashes = {
        history.hash_of(plain, 1, history.BEGINNING),
        history.hash_of(plain, 2, history.BEGINNING),
        history.hash_of(plain, 1, "1" * 64),
        *(
            history.hash_of(replace(plain, **{name: value}), 1, history.BEGINNING)
            for name, value in (
                ("site", "other"),
                ("at", START.replace(microsecond=1)),
                ("who", "other"),
                ("what", "other"),
                ("kind", "other"),
                ("subject", "other"),
                ("why", "other"),
                ("job", "other"),
                ("detail", {"number": 2}),
            )
        ),
    }

    assert len(hashes) == 12


def event(number: int, site: str) -> history.Event:
    """Something that happened."""
    return history.Event(
        site=site,
        at=START,
        who="a test",
        what="site.changed",
        kind="site",
        subject=site,
        detail={"number": number},
    )
