"""Sets of angle blocks against their published reach, plans against combinations by hand."""

from itertools import product

import numpy as np
import numpy.typing as npt
import pytest

from wrung import Answer, solve
from wrung.angle_blocks.compositions import angle_composition
from wrung.angles import DEGREE, SECOND, angle
from wrung.targets import AngleBlocksTarget


def reachable(composition: str) -> npt.NDArray[np.int64]:
    """Every angle of a set over 0, in seconds, ascending; grown block by block in numpy."""
    sums = np.array([0], dtype=np.int64)
    for nominal in angle_composition(composition).nominals:
        size = nominal // SECOND
        sums = np.unique(np.concatenate([sums - size, sums, sums + size]))
    return sums[sums > 0]


def planned(composition: str, wanted: int) -> Answer:
    """The plan for one angle from a whole set."""
    target = AngleBlocksTarget(ref="a", angle=wanted, composition=composition)
    (case,) = solve((), [target], time_limit_ms=60_000).cases
    assert case.plan.outcome == "optimal"
    return case.plan


def test_the_13_block_set_reaches_what_is_published() -> None:
    """3 s to 81 deg 40 min 57 s by 3 s, 98 019 values: J. Inst. Meas. Control 15 (1993)."""
    found = reachable("angle-13")

    assert len(found) == 98_019
    assert found[-1] == angle("81°40'57\"") // SECOND
    assert set(np.diff(found)) == {3}
    assert found[0] == 3


def test_the_12_block_set_of_the_npl() -> None:
    """0.1, 0.3 and 0.5 minutes: National Physical Laboratory, MOY/SCMI/18 (issue 6):2001."""
    found = reachable("angle-12")

    assert found[-1] == angle("81°40'54\"") // SECOND
    assert {angle("0°0'6\""), angle("0°0'18\""), angle("0°0'30\"")} < set(
        angle_composition("angle-12").nominals
    )


def test_the_16_block_set_gives_every_second_to_99_degrees() -> None:
    """From memory of how such sets are described: 356 400 values."""
    found = reachable("angle-16")

    within = found[found <= 99 * 3600]
    assert len(within) == 356_400


@pytest.mark.parametrize(("name", "step"), [("angle-11", 60), ("angle-6", 3600)])
def test_smaller_sets_give_every_minute_and_every_degree(name: str, step: int) -> None:
    """As they are described, from memory; the sums are worked out."""
    found = reachable(name)

    assert set(range(step, 99 * 3600 + 1, step)) <= set(found.tolist())


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
    plan = planned("angle-13", angle(text))

    assert [stack.nominal for stack in plan.stacks] == [angle(text)]
    assert plan.total_blocks <= most


def test_degrees_of_the_16_block_set_takes_at_most_five_blocks() -> None:
    """Brute force over its six degree blocks, for the plan with all sixteen."""
    degrees = [n for n in angle_composition("angle-16").nominals if n >= DEGREE]
    for wanted in range(1, 90, 4):
        least = min(
            sum(map(abs, signs))
            for signs in product((-1, 0, 1), repeat=len(degrees))
            if sum(s * n for s, n in zip(signs, degrees, strict=True)) == wanted * DEGREE
        )
        assert 1 <= planned("angle-16", wanted * DEGREE).total_blocks <= least <= 5
