"""A shelf that a connection keeps is the one that another would read."""

import sqlalchemy as sa

from store.rows import SITE, add_block, add_site, hours
from wrung_service.store import tables
from wrung_service.store.engine import Store
from wrung_service.store.shelves import FitBlocks, fit_blocks

CHANGES: tuple[tuple[str, dict[str, object]], ...] = (
    ("b", {"deviation": 400}),
    ("a", {"condition": "damaged"}),
    ("new", {}),
    ("a", {"condition": "fit"}),
    ("c", {"removed_at": hours(1)}),
)


def shelf(store: Store) -> FitBlocks:
    """What is fit at the site, by the connection that was used last."""
    with store.reading() as connection:
        return fit_blocks(connection, SITE, (), ())


def test_after_each_change_it_is_what_another_reads(store: Store, store_url: str) -> None:
    with store.writing() as connection:
        add_site(connection, SITE, *"abcde")
    first = shelf(store)
    assert [each.id for each in first.blocks] == [*"abcde"]
    assert shelf(store) is first

    for name, members in CHANGES:
        with store.writing() as connection:
            _change(connection, name, members)
        kept, other = shelf(store), Store(store_url)
        assert kept == shelf(other)
        assert kept != first
        other.close()
    assert [each.id for each in kept.blocks] == ["a", "b", "d", "e", "new"]
    assert next(each for each in kept.blocks if each.id == "b").deviation == 400


def _change(connection: sa.Connection, name: str, members: dict[str, object]) -> None:
    """As the service does it: another version, or a new row."""
    block = tables.block
    if not members:
        add_block(connection, name)
        return
    changed = {**members, "version": block.c.version + 1}
    connection.execute(sa.update(block).where(block.c.id == name).values(changed))
