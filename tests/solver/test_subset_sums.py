"""Sums as bits, held to sums as a plain set."""

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from wrung.subset_sums import (
    affordable,
    highest,
    listed,
    lowest,
    lowest_listed,
    pick,
    pick_few,
    sums,
)

SIZES = st.lists(st.integers(1, 40), max_size=8)
MOST = st.none() | st.integers(0, 8)


def reachable(sizes: list[int], most: int | None, limit: int) -> set[int]:
    """By trying every choice."""
    counts = range(1 + (len(sizes) if most is None else min(most, len(sizes))))
    chosen = (choice for count in counts for choice in combinations(sizes, count))
    return {total for total in map(sum, chosen) if total <= limit}


def members(bits: int) -> set[int]:
    """The bits that are set."""
    return {place for place in range(bits.bit_length()) if bits >> place & 1}


@given(SIZES, MOST, st.integers(0, 200))
def test_the_bits_are_the_reachable_sums(sizes: list[int], most: int | None, limit: int) -> None:
    """All of them, and none beyond the limit."""
    assert members(sums(sizes, most, limit)[-1]) == reachable(sizes, most, limit)


@given(SIZES, st.integers(0, 8))
def test_each_layer_holds_the_sums_of_at_most_so_many(sizes: list[int], most: int) -> None:
    """Layer by layer, from none on."""
    for count, layer in enumerate(sums(sizes, most, 400)):
        assert members(layer) == reachable(sizes, count, 400)


@given(SIZES.filter(bool), MOST, st.data())
def test_what_is_picked_adds_up(sizes: list[int], most: int | None, data: st.DataObject) -> None:
    """Each place once, no more than allowed, and few of them where few do."""
    total = data.draw(st.sampled_from(sorted(reachable(sizes, most, 400))))
    fewest = min(n for n in range(9) if total in reachable(sizes, n, 400))

    places, few = pick(sizes, most, total), pick_few(sizes, most, total)

    assert sum(sizes[place] for place in places) == total
    assert len(set(places)) == len(places) <= (len(sizes) if most is None else most)
    assert sum(sizes[place] for place in few) == total
    assert fewest > 6 or len(few) == fewest


@given(st.integers(0, 1 << 70), st.integers(0, 80), st.integers(0, 80))
def test_neighbours_are_found_in_either_form(bits: int, first: int, last: int) -> None:
    """The lowest from a place on, the highest up to a place, and the lowest between two."""
    present = members(bits)

    assert lowest(bits, first) == min((n for n in present if n >= first), default=-1)
    assert highest(bits, last) == max((n for n in present if n <= last), default=-1)
    assert lowest_listed(listed(bits), first, last) == min(
        (n for n in present if first <= n <= last), default=-1
    )


def test_sums_that_would_fill_the_memory_are_refused() -> None:
    """Lengths that share no step coarser than 0.01 nm make too many sums over 100 mm."""
    assert affordable([1000] * 81, None, 300_000, seconds=1)
    assert not affordable([10**8 + 1] * 3, None, 10**10, seconds=60)
    assert not affordable([1000] * 81, None, 300_000, seconds=0)
