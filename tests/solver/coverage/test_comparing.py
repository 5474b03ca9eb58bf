"""Two inventories on one grid, held to trying every subset of the blocks of each."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solver.coverage.every_subset import fewest
from wrung import InputError, compare_coverage, coverage_of, mm
from wrung.blocks import Block
from wrung.coverage import Coverage, LengthGrid
from wrung.testing import make_blocks

GRID = LengthGrid(start=mm("0.5"), stop=mm("12"), step=mm("0.5"))
SHELVES = st.lists(st.sampled_from(("0.5", "1", "1.5", "2", "3", "5")), max_size=5).map(
    lambda nominals: make_blocks(" ".join(nominals))
)


def survey(blocks: tuple[Block, ...], grid: LengthGrid = GRID) -> Coverage:
    return coverage_of(blocks, grid, max_blocks=4, offers=(), time_limit_ms=60_000)


@settings(max_examples=40, deadline=None)
@given(SHELVES, SHELVES)
def test_it_counts_as_trying_every_subset_does(
    first: tuple[Block, ...], second: tuple[Block, ...]
) -> None:
    found = compare_coverage(survey(first), survey(second))
    one, other = fewest(first, GRID, most=4), fewest(second, GRID, most=4)
    pairs = [(one.get(point, 0), other.get(point, 0)) for point in GRID.points]

    assert found.both == sum(a > 0 and b > 0 for a, b in pairs)
    assert found.neither == sum(a == b == 0 for a, b in pairs)
    assert found.fewer_with_first == sum(0 < a < b for a, b in pairs)
    assert found.fewer_with_second == sum(0 < b < a for a, b in pairs)
    assert list(found.only_first.fewest) == [0 if b else a for a, b in pairs]
    assert list(found.only_second.fewest) == [0 if a else b for a, b in pairs]


def test_the_runs_of_what_only_one_builds_are_those_lengths() -> None:
    found = compare_coverage(survey(make_blocks("2 0.5")), survey(make_blocks("2")))

    runs = [(run.first, run.last) for run in found.only_first.runs if run.buildable]
    assert runs == [(mm("0.5"), mm("0.5")), (mm("2.5"), mm("2.5"))]
    assert found.only_second.buildable_count == 0


def test_two_grids_are_refused() -> None:
    other = LengthGrid(start=mm("0.5"), stop=mm("12"), step=mm("1"))

    with pytest.raises(InputError, match="not the same"):
        compare_coverage(survey(make_blocks("1")), survey(make_blocks("1"), other))
