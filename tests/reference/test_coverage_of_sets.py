"""What whole sets cover, against what texts of the trade say of them.

How many lengths need how many blocks is compared with figures that were worked out for this project
beforehand by a separate calculation; no source prints them (see test_reachable_lengths.py).
"""

import pytest

from reference.test_reachable_lengths import GRIDS
from wrung import Coverage, GaugeSet, LengthGrid, composition, coverage_of, inch, mm
from wrung.coverage import Reach
from wrung.testing import make_blocks


def inches(start: str, stop: str) -> LengthGrid:
    return LengthGrid(start=inch(start), stop=inch(stop), step=inch("0.0001"))


def surveyed(composition_id: str, grid: LengthGrid, *, missing: tuple[int, ...] = ()) -> Coverage:
    gauge_set = GaugeSet(
        id="s", composition=composition_id, limit_deviation=mm("0.001"), missing=missing
    )
    return coverage_of(gauge_set.blocks(), grid, time_limit_ms=60_000)


def reach_of(found: Coverage) -> Reach:
    assert found.outcome == "complete"
    assert found.reach
    return found.reach


def test_an_81_block_set_has_every_size_to_12_inches_in_ten_thousandths() -> None:
    """From 0.2 in on; texts say from 0.1 in, which cannot be: 0.1011 is no sum of its blocks.

    Source: "any size from .100 to 12.000 in steps of .0001" (answer on qeeebo.com about stacking
    gage blocks, read on the web, which prints the four series, too).
    """
    upwards = reach_of(surveyed("inch-81", inches("0.2", "12")))
    below = reach_of(surveyed("inch-81", inches("0.1", "0.2")))

    assert (upwards.buildable_count, upwards.gap_count) == (118_001, 0)
    assert any(gap.first <= inch("0.1011") <= gap.last for gap in below.gaps)
    assert all(gap.last < inch("0.2") for gap in below.gaps)


def test_ten_thousandths_without_their_block() -> None:
    """Of nine blocks .1001 to .1009 one is missing: others must make its digit, of more blocks.

    Source: common practice, no source: stacks are chosen from the last digit up, and each of these
    blocks clears one digit. Up to 0.2 in there is room for no second of them.
    """
    missing = (inch("0.1004"),)
    found = surveyed("inch-81", inches("0.1", "0.2"), missing=missing)
    whole = reach_of(surveyed("inch-81", inches("0.1", "0.2")))

    gaps = [gap for gap in reach_of(found).gaps if gap.first <= missing[0] <= gap.last]
    assert len(gaps) == 1
    assert found.additions
    assert missing[0] in {addition.blocks[0].nominal for addition in found.additions.single_blocks}
    assert (
        reach_of(found).buildable_count + found.additions.single_blocks[0].lengths_gained
        == whole.buildable_count
    )


def test_a_thousand_lengths_of_three_blocks() -> None:
    """The 30 blocks 1.000-1.009, 1.00-1.09, 1.0-1.9 give 3.000 to 3.999 mm by threes.

    Source: encyclopaedia articles on gauge blocks (text read on the web).
    """
    blocks = make_blocks(
        " ".join(
            [*(f"1.00{n}" for n in range(10)), *(f"1.0{n}" for n in range(10))]
            + [f"1.{n}" for n in range(10)]
        )
    )
    grid = LengthGrid(start=mm("3"), stop=mm("3.999"), step=mm("0.001"))

    reach = reach_of(coverage_of(blocks, grid, max_blocks=3))

    assert (len(blocks), reach.buildable_count, reach.gap_count) == (30, 1000, 0)


@pytest.mark.parametrize(("name", "wanted", "expected"), [(n, w, e) for n, _, w, e in GRIDS])
def test_how_many_lengths_need_how_many_blocks(
    name: str, wanted: tuple[str, str, str], expected: dict[int, int]
) -> None:
    """Every length of the grid can be built."""
    read = mm if composition(name).unit == "mm" else inch
    start, stop, every = map(read, wanted)

    reach = reach_of(surveyed(name, LengthGrid(start=start, stop=stop, step=every)))

    assert {each.block_count: each.length_count for each in reach.histogram} == expected
    assert (reach.gap_count, reach.run_count) == (0, 1)
