"""What an attendant filters by is found by an index: nothing walks through a whole site."""

import re
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from store.rows import SITE, hours
from wrung_service.store.blocks import BlockFilter, find_blocks, list_blocks
from wrung_service.store.engine import Store
from wrung_service.store.loans import LoanFilter, claims, list_loans, open_loans
from wrung_service.store.pages import Place
from wrung_service.store.plans import PlanFilter, due_to_expire, plans_of
from wrung_service.store.shelves import fit_blocks, holds

PAGE = Place(limit=100)
Read = Callable[[sa.Connection], object]


def blocks(wanted: BlockFilter) -> Read:
    """A list of blocks."""
    return lambda connection: list_blocks(connection, SITE, wanted, PAGE)


def plans(wanted: PlanFilter) -> Read:
    """A list of plans."""
    return lambda connection: plans_of(connection, wanted)


def loans(wanted: LoanFilter) -> Read:
    """A list of loans."""
    return lambda connection: list_loans(connection, SITE, wanted, PAGE)


# Each with the columns, after that of the site, by which the index is searched; a list without a
# filter goes through its index in order, up to the end of the page.
READS: dict[str, tuple[Read, str]] = {
    "all blocks": (blocks(BlockFilter()), ""),
    "a set": (blocks(BlockFilter(set="a")), "set_id=?"),
    "a length": (blocks(BlockFilter(nominal=100_500_000)), "nominal=?"),
    "due": (blocks(BlockFilter(due_before=date(2027, 3, 1))), "due_on<?"),
    "out": (blocks(BlockFilter(out=True)), ""),
    "late": (blocks(BlockFilter(late_at=hours(1))), "due_at<?"),
    "damaged": (blocks(BlockFilter(condition="damaged")), "condition=?"),
    "some blocks": (lambda c: find_blocks(c, SITE, ["1"]), "id=?"),
    "all plans": (plans(PlanFilter(site=SITE, limit=100)), ""),
    "a job": (plans(PlanFilter(site=SITE, limit=100, job="4711")), "job=?"),
    "a state": (plans(PlanFilter(site=SITE, limit=100, state="planned")), "state=?"),
    "the next page of plans": (
        plans(PlanFilter(site=SITE, limit=100, after=(hours(1), "p"))),
        "starts_at>?",
    ),
    "to expire": (lambda c: due_to_expire(c, SITE, hours(0)), "expires_at<?"),
    "all loans": (loans(LoanFilter()), ""),
    "loans that are out": (loans(LoanFilter(out=True)), ""),
    "late loans": (loans(LoanFilter(late_at=hours(1))), "due_at<?"),
    "loans of a block": (loans(LoanFilter(block="1")), "block_id=?"),
    "a scan": (lambda c: open_loans(c, SITE, ["1"]), "block_id=?"),
    "claims": (lambda c: claims(c, SITE, ["1"], hours(0)), "block_id=? AND ends_at>?"),
    "a search": (lambda c: fit_blocks(c, SITE, [], []), ""),
    "held": (lambda c: holds(c, SITE, hours(0), hours(1), hours(0)), "ends_at>?"),
}


@pytest.mark.parametrize("name", READS)
def test_it_searches_an_index(sqlite_store: Store, name: str) -> None:
    read, by = READS[name]
    ways = ways_of(sqlite_store, read)
    assert not [each for each in ways if "SCAN" in each]
    first = "site_id=?" + (f" AND {by}" if by else "")
    assert any(f"({first}" in each for each in ways), ways


def test_only_those_that_are_out_are_read(sqlite_store: Store) -> None:
    """By the index of open loans, and not one block after another."""
    (first, *_) = ways_of(sqlite_store, blocks(BlockFilter(out=True)))
    assert "uq_loan_out" in first


def test_a_walk_would_be_seen(sqlite_store: Store) -> None:
    """A column without an index: the test above can fail."""
    query = sa.text("SELECT n FROM loan WHERE borrower = 'x' OR :site = ''")
    ways = ways_of(sqlite_store, lambda c: c.execute(query, {"site": SITE}).all())
    assert any("SCAN" in each for each in ways)


def ways_of(store: Store, read: Read) -> list[str]:
    """How SQLite comes to the rows of every statement of a reading."""
    asked: list[tuple[str, Any]] = []

    def note(*event: Any) -> None:  # noqa: ANN401 - of SQLAlchemy
        asked.append((str(event[2]), event[3]))

    with store.reading() as connection:
        sa.event.listen(connection, "before_cursor_execute", note)
        read(connection)
        sa.event.remove(connection, "before_cursor_execute", note)
        found = [connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {s}", p) for s, p in asked]
        return [row[3] for each in found for row in each if re.match("SCAN|SEARCH", row[3])]


@pytest.fixture(name="sqlite_store")
def _sqlite_store(sqlite_template: Path) -> Iterator[Store]:
    """How SQLite looks for rows depends on the tables alone, as nothing counts what is in them."""
    store = Store(f"sqlite:///{sqlite_template}")
    yield store
    store.close()
