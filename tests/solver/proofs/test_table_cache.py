"""Tables that depend on the inventory alone are kept between requests, in bounded room."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np
import pytest
from msgspec.structs import replace

from solver.proofs.same_answers import as_bytes
from solver.proofs.shelves import certified, random_targets
from wrung import Block, GaugeSet, LengthTarget, mm, solve, um
from wrung.deadline import Deadline
from wrung.planning.candidates import supply, tables
from wrung.planning.candidates.layout import Layout, Reach
from wrung.planning.candidates.stock import Cells, Ints
from wrung.planning.candidates.tables import Table, TableCache, build_table
from wrung.tuning import TUNING

SETS: Final = 12
MOST_CELLS: Final = 400_000


class Counted(TableCache):
    """A cache that counts what is built for it."""

    def __init__(self, most_cells: int) -> None:
        super().__init__(most_cells)
        self.asked = 0

    def get(self, layout: Layout, costs: Ints, reach: Reach, deadline: Deadline) -> Table:
        """Asked once more."""
        self.asked += 1
        return super().get(layout, costs, reach, deadline)


@pytest.fixture
def built(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The reach of every table that a cache has built."""
    reaches: list[int] = []

    def noted(layout: Layout, costs: Ints, reach: Reach, deadline: Deadline) -> Table:
        reaches.append(*reach)
        return build_table(layout, costs, reach, deadline)

    monkeypatch.setattr(tables, "build_table", noted)
    return reaches


@pytest.fixture
def cache(monkeypatch: pytest.MonkeyPatch) -> Counted:
    """A cache of its own in the place of that of the process."""
    own = Counted(MOST_CELLS)
    monkeypatch.setattr(supply, "TABLES", own)
    return own


def ask(name: str, seed: int) -> bytes:
    """One target, from a set that a seed has certified in its own way."""
    one = GaugeSet(id=name, composition="inch-81", grade="AS-1").blocks()
    own = number_of(name)
    blocks = [
        replace(block, expanded_uncertainty=um("0.03") + (place * own) % 1_009)
        for place, block in enumerate(certified([block.nominal for block in one], seed=own))
    ]
    answer = solve(blocks, random_targets(1, seed), objective="least_error", time_limit_ms=60_000)
    assert answer.objective_proven
    return as_bytes(answer)


def number_of(name: str) -> int:
    """Another for each name, the same in every process."""
    return int.from_bytes(name.encode(), "big")


def test_a_second_request_finds_its_tables_ready(cache: Counted, built: list[int]) -> None:
    """The same shelf, another length: nothing is built again, or only for a longer one."""
    for seed in range(12):
        ask("a", seed)
    # From 0.3 to 2 in, and each time a quarter more than asked for.
    assert 1 <= len(built) < cache.asked / 2
    assert built == sorted(built)
    ready = len(built)
    for seed in range(12):
        ask("a", seed)

    assert len(built) == ready


def test_another_shelf_has_tables_of_its_own(cache: Counted, built: list[int]) -> None:
    del cache
    ask("a", seed=1)
    ask("b", seed=1)

    assert len(built) == 2


def test_room_is_bounded_in_cells_and_so_in_bytes(cache: Counted) -> None:
    """Eight bytes a cell at most; the least recently used tables go first."""
    sizes: list[int] = []
    for number in range(SETS):
        ask(f"set-{number}", seed=3)
        sizes.append(cells(cache))

    assert max(sizes) <= MOST_CELLS
    assert 0 < held_bytes(cache) <= 8 * cells(cache)
    assert len(cache.tables) < SETS


def test_small_tables_are_bounded_by_their_number(cache: Counted) -> None:
    """A block of another length each time, as a service may be asked: a table of a few cells."""
    for number in range(TUNING.most_tables + 20):
        length = mm("1") + number
        block = Block(id="b", nominal=length, limit_deviation=um("0.1") + number)
        assert solve([block], [LengthTarget(ref="t", length=length)]).outcome == "optimal"

    assert len(cache.tables) == TUNING.most_tables
    assert cells(cache) < MOST_CELLS / 10


def test_what_was_used_last_is_kept(cache: Counted, built: list[int]) -> None:
    for number in range(SETS):
        ask(f"set-{number}", seed=3)
    assert len(cache.tables) < SETS
    before = len(built)
    ask(f"set-{SETS - 1}", seed=3)
    assert len(built) == before
    ask("set-0", seed=3)
    assert len(built) > before


def test_one_table_larger_than_all_the_room_is_used_and_not_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tiny = Counted(10)
    monkeypatch.setattr(supply, "TABLES", tiny)
    found = ask("a", seed=1)

    assert cells(tiny) == 0
    monkeypatch.setattr(supply, "TABLES", Counted(MOST_CELLS))
    assert ask("a", seed=1) == found


def test_threads_share_it(cache: Counted) -> None:
    """Many at once, room for few: no answer differs from that found alone, no bound is broken."""
    asked = [(f"set-{number % 4}", seed) for seed in range(3) for number in range(8)]
    alone = [ask(*one) for one in asked]
    with ThreadPoolExecutor(8) as threads:
        at_once = list(threads.map(lambda one: ask(*one), asked))

    assert at_once == alone
    assert cells(cache) <= MOST_CELLS


def test_a_kept_table_cannot_be_spoilt(cache: Counted) -> None:
    """It is read by many; two requests get the very same arrays, so nobody may write to them."""
    ask("a", seed=1)
    before = {key: [cells.copy() for cells in table.by_next] for key, table in cache.tables.items()}
    for seed in range(2, 6):
        ask("a", seed)

    assert before.keys() <= cache.tables.keys()
    for key, rests in before.items():
        for old, new in zip(rests, cache.tables[key].by_next, strict=True):
            width = min(old.shape[1], new.shape[1])
            assert np.array_equal(old[:, :width], new[:, :width])


def arrays(cache: TableCache) -> Iterator[Cells]:
    for table in cache.tables.values():
        yield from (*table.whole, *table.by_next)


def cells(cache: TableCache) -> int:
    return sum(part.size for part in arrays(cache))


def held_bytes(cache: TableCache) -> int:
    return sum(part.nbytes for part in arrays(cache))
