"""Sets of angle blocks against their published reach, and the search against brute force."""

from itertools import product

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wrung.angle_blocks.combination import search
from wrung.angle_blocks.compositions import angle_composition
from wrung.angles import DEGREE, MINUTE, SECOND, angle


def reachable(composition: str) -> npt.NDArray[np.int64]:
    """Every angle of a set over 0, in seconds, ascending; grown block by block in numpy."""
    sums = np.array([0], dtype=np.int64)
    for nominal in angle_composition(composition).nominals:
        size = nominal // SECOND
        sums = np.unique(np.concatenate([sums - size, sums, sums + size]))
    return sums[sums > 0]


def test_the_13_block_set_reaches_what_is_published() -> None:
    """3 s to 81 deg 40 min 57 s by 3 s, 98 019 values: J. Inst. Meas. Control 15 (1993)."""
    found = reachable("angle-13")

    assert len(found) == 98_019
    assert found[-1] == angle("81°40'57\"") // SECOND
    assert set(np.diff(found)) == {3}
    assert found[0] == 3


def test_the_16_block_set_gives_every_second_to_99_degrees() -> None:
    """From memory of how such sets are described: 356 400 values."""
    found = reachable("angle-16")

    within = found[found <= 99 * 3600]
    assert len(within) == 356_400


@settings(max_examples=40)
@given(
    st.lists(st.integers(1, 60), min_size=1, max_size=7),
    st.integers(0, 120),
    st.integers(0, 4),
    st.integers(1, 7),
)
def test_the_search_finds_what_brute_force_finds(
    sizes: list[int], wanted: int, within: int, most: int
) -> None:
    """Fewest blocks in the window, then the nearest; else the nearest on either side."""
    nominals = [size * MINUTE for size in sizes]
    every = [
        (sum(map(abs, signs)), sum(s * n for s, n in zip(signs, nominals, strict=True)))
        for signs in product((-1, 0, 1), repeat=len(nominals))
    ]
    allowed = [(count, total) for count, total in every if count <= most]
    goal, window = wanted * MINUTE, within * MINUTE
    inside = [(c, abs(t - goal)) for c, t in allowed if abs(t - goal) <= window]

    found = search(nominals, goal, window, most)

    if inside:
        assert found.best is not None
        count = len(found.best.adding) + len(found.best.subtracting)
        assert (count, abs(found.best.total - goal)) == min(inside)
        assert found.best.total == sum(found.best.adding) - sum(found.best.subtracting)
    else:
        assert found.best is None
        below = [t for _, t in allowed if 0 <= t < goal]
        above = [t for _, t in allowed if t > goal]
        assert (found.below.total if found.below else None) == max(below, default=None)
        assert (found.above.total if found.above else None) == min(above, default=None)


@pytest.mark.parametrize(
    ("text", "most"),
    [
        # Worked from the set by hand: 41 - 3 - 1 deg, 9 min, 18 s = 37 deg 9 min 18 s.
        ("37°9'18\"", 5),
        ("27", 1),
        # 27 + 9 - 3 deg, 9 + 3 - 1 min, 30 + 6 s.
        ("33°11'36\"", 8),
    ],
)
def test_no_more_blocks_than_a_hand_worked_combination(text: str, most: int) -> None:
    found = search(angle_composition("angle-13").nominals, angle(text), 0)

    assert found.best is not None
    assert found.best.total == angle(text)
    assert len(found.best.adding) + len(found.best.subtracting) <= most


def test_every_degree_of_the_16_block_set_takes_at_most_five_blocks() -> None:
    """Brute force over its six degree blocks, for the search over all sixteen."""
    degrees = [n for n in angle_composition("angle-16").nominals if n >= DEGREE]
    for wanted in range(1, 90):
        least = min(
            sum(map(abs, signs))
            for signs in product((-1, 0, 1), repeat=len(degrees))
            if sum(s * n for s, n in zip(signs, degrees, strict=True)) == wanted * DEGREE
        )
        found = search(angle_composition("angle-16").nominals, wanted * DEGREE, 0)
        assert found.best is not None
        assert len(found.best.adding) + len(found.best.subtracting) <= least <= 5
