"""Sums of all sizes at once, held to sums as a plain set."""

from itertools import combinations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from wrung.subset_sums import affordable, as_bits, least_counts, most_of, pick, reached
from wrung.tuning import TUNING

SIZES = st.lists(st.integers(1, 40), max_size=8)
MOST = st.none() | st.integers(0, 8)
MUCH = 10**9
"""Bytes."""


def reachable(sizes: list[int], most: int | None, limit: int) -> set[int]:
    """By trying every choice."""
    counts = range(1 + (len(sizes) if most is None else min(most, len(sizes))))
    chosen = (choice for count in counts for choice in combinations(sizes, count))
    return {total for total in map(sum, chosen) if total <= limit}


@given(SIZES, MOST, st.integers(0, 200))
def test_the_reachable_sums_are_found(sizes: list[int], most: int | None, limit: int) -> None:
    """All of them, and none beyond the limit."""
    found, counts = reached(sizes, limit), least_counts(sizes, limit)

    assert len(found) == len(counts) == limit + 1
    assert set(np.flatnonzero(found).tolist()) == reachable(sizes, None, limit)
    few = np.flatnonzero(counts <= most_of(counts, most))
    assert set(few.tolist()) == reachable(sizes, most, limit)


@given(SIZES, st.integers(0, 200))
def test_each_sum_has_its_least_count(sizes: list[int], limit: int) -> None:
    """As the first number of sizes that reaches it; no count where none do."""
    counts = least_counts(sizes, limit)

    for total, count in enumerate(counts.tolist()):
        fewest = next((n for n in range(9) if total in reachable(sizes, n, limit)), None)
        assert fewest == (count if count <= most_of(counts, None) else None)


@given(SIZES.filter(bool), st.data())
def test_the_fewest_that_add_up_are_picked(sizes: list[int], data: st.DataObject) -> None:
    """Each place once."""
    total = data.draw(st.sampled_from(sorted(reachable(sizes, None, 400))))

    places = pick(sizes, total)

    assert sum(sizes[place] for place in places) == total
    assert len(set(places)) == len(places) == least_counts(sizes, total)[total]


def test_counts_that_fill_no_byte_are_told_apart_from_no_count() -> None:
    """Of 300 equal sizes, even sums have up to 300, and odd ones none."""
    counts = least_counts([2] * 300, 700)

    assert counts[600] == len(pick([2] * 300, 600)) == 300
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
    assert affordable([1000] * 81, 300_000, seconds=1, room=MUCH, tuning=TUNING)
    assert not affordable([10**8 + 1] * 3, 10**10, seconds=60, room=MUCH, tuning=TUNING)
    assert not affordable([1000] * 81, 300_000, seconds=0, room=MUCH, tuning=TUNING)
    assert not affordable([1000] * 81, 300_000, seconds=1, room=300_000, tuning=TUNING)
