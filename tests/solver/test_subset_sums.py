"""Sums of all blocks at once, held to sums as a plain set."""

from collections.abc import Iterator
from itertools import combinations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wrung.deadline import Deadline
from wrung.memory import Memory
from wrung.subset_sums import (
    Kind,
    affordable,
    as_bits,
    counted,
    least_counts,
    most_of,
    one_step,
    pick,
    reached,
)

LAYERS = 3
SIZES = st.lists(st.integers(1, 40), max_size=5)
MOST = st.none() | st.integers(0, 8)


def shelf(gauges: list[int], wear: list[int], steps: list[int]) -> tuple[Kind, ...]:
    plain = [Kind(size=size, is_wear=False) for size in gauges]
    worn = [Kind(size=size, is_wear=True) for size in wear]
    return (*counted([*plain, *worn]), *one_step(steps))


KINDS = st.builds(
    shelf,
    SIZES,
    st.lists(st.integers(1, 9), max_size=3),
    st.lists(st.integers(1, 40), max_size=2),
)


def gauge(size: int, count: int = 1) -> Kind:
    return Kind(size=size, is_wear=False, count=count)


def stacks(kinds: tuple[Kind, ...]) -> Iterator[tuple[int, int, int]]:
    """Of every choice of blocks: wear blocks, sum, and how many blocks."""
    single = [
        (kind.size, kind.is_wear) for kind in kinds if not kind.is_step for _ in range(kind.count)
    ]
    steps = [(size, False) for kind in kinds if kind.is_step for size in (kind.size, *kind.others)]
    for step in ((), *((each,) for each in steps)):
        for count in range(len(single) + 1):
            for chosen in combinations(single, count):
                own = (*step, *chosen)
                yield sum(worn for _, worn in own), sum(size for size, _ in own), len(own)


def fewest(kinds: tuple[Kind, ...]) -> dict[tuple[int, int], int]:
    """By wear blocks and sum."""
    found: dict[tuple[int, int], int] = {}
    for wear, total, count in stacks(kinds):
        found[wear, total] = min(count, found.get((wear, total), count))
    return found


@given(SIZES, st.integers(0, 200))
def test_the_reachable_sums_are_found(sizes: list[int], limit: int) -> None:
    """All of them, and none beyond the limit."""
    found = reached(sizes, limit)

    assert len(found) == limit + 1
    sums = {total for _, total, _ in stacks(tuple(map(gauge, sizes))) if total <= limit}
    assert set(np.flatnonzero(found).tolist()) == sums


@given(KINDS, MOST, st.integers(0, 200))
def test_each_sum_has_its_least_count(
    kinds: tuple[Kind, ...], most: int | None, limit: int
) -> None:
    """By wear blocks; no count where none do, nor where they are more than asked for."""
    counts, known = least_counts(kinds, LAYERS, limit), fewest(kinds)

    assert counts.shape == (LAYERS, limit + 1)
    for (wear, total), count in np.ndenumerate(counts):
        least = known.get((wear, total))
        within = least is not None and (most is None or least <= most)
        assert (count <= most_of(counts, most)) == within
        assert not within or count == least


@given(KINDS, st.data())
def test_the_fewest_that_add_up_are_picked(kinds: tuple[Kind, ...], data: st.DataObject) -> None:
    """No kind more often than it is there, and of the steps one at most."""
    known = {place: count for place, count in fewest(kinds).items() if place[0] < LAYERS}
    wear, total = data.draw(st.sampled_from(sorted(known)))

    chosen = pick(kinds, least_counts(kinds, LAYERS, 300), wear, total)

    assert sum(size for _, size in chosen) == total
    assert sum(kind.is_wear for kind, _ in chosen) == wear
    assert len(chosen) == known[wear, total]
    for kind in kinds:
        own = [size for each, size in chosen if each == kind]
        assert len(own) <= kind.count
        assert {*own} <= {kind.size, *kind.others}


def test_counts_that_fill_no_byte_are_told_apart_from_no_count() -> None:
    """Of 300 equal sizes, even sums have up to 300, and odd ones none."""
    kinds = (gauge(2, 300),)
    layers = least_counts(kinds, 1, 700)
    (counts,) = layers

    assert counts[600] == len(pick(kinds, layers, 0, 600)) == 300
    assert np.flatnonzero(counts <= most_of(counts, None)).tolist() == [*range(0, 601, 2)]
    assert np.flatnonzero(counts <= most_of(counts, 200)).tolist() == [*range(0, 401, 2)]


@given(st.sets(st.integers(0, 200)))
def test_a_mask_as_bits_has_the_same_places(places: set[int]) -> None:
    """Bit by bit."""
    mask = np.zeros(201, np.bool_)
    mask[sorted(places)] = True

    assert as_bits(mask) == sum(1 << place for place in places)


def test_sums_that_would_fill_the_memory_are_refused() -> None:
    """Lengths that share no step coarser than 0.01 nm make too many sums over 100 mm."""
    usual, ample = (gauge(1000, 81),), Deadline(60_000)

    assert affordable(usual, 1, 300_000, ample)
    assert not affordable((gauge(10**8 + 1, 3),), 1, 10**10, ample)
    assert not affordable(usual, 1, 300_000, Deadline(0))
    assert not affordable(usual, 1, 300_000, Deadline(60_000, memory=Memory(0.3)))
