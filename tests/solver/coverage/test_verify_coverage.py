"""The checker of surveys: it passes what is right and names what is not."""

from collections.abc import Callable

import pytest
from msgspec.structs import replace

from wrung import Cancel, GaugeSet, coverage_of, inch, mm
from wrung.answers import Wanted
from wrung.checker.coverage import verify_coverage
from wrung.coverage import Coverage, LengthGrid, Reach
from wrung.testing import make_blocks

BLOCKS = (*make_blocks("1 1.5 2 2 5 30"), *make_blocks("1 2", role="wear"))
GRID = LengthGrid(start=mm("0.75"), stop=mm("12"), step=mm("0.25"))
OFFERS = [Wanted(nominal=mm(text)) for text in ("0.25", "3", "7")]


def survey(max_blocks: int | None = None) -> Coverage:
    found = coverage_of(BLOCKS, GRID, offers=OFFERS, max_blocks=max_blocks)
    assert found.outcome == "complete"
    return found


def reach_of(found: Coverage) -> Reach:
    assert found.reach
    return found.reach


def told(found: Coverage, length: str, blocks: int) -> Coverage:
    """The survey with another number of blocks for one length, counted as it should be."""
    reach = reach_of(found)
    fewest = bytearray(reach.fewest)
    fewest[GRID.points.index(mm(length))] = blocks
    counts = {n: fewest.count(n) for n in sorted(set(fewest)) if n}
    changed = replace(
        reach,
        fewest=bytes(fewest),
        buildable_count=sum(counts.values()),
        histogram=tuple(
            replace(reach.histogram[0], block_count=n, length_count=points)
            for n, points in counts.items()
        ),
    )
    return replace(found, reach=changed)


def with_loss(found: Coverage, more: int) -> Coverage:
    assert found.losses
    first, *others = found.losses
    return replace(found, losses=(replace(first, lengths_lost=first.lengths_lost + more), *others))


def with_two(found: Coverage, more: int) -> Coverage:
    added = found.additions
    assert added
    assert added.best_pair
    two = replace(added.best_pair, lengths_gained=added.best_pair.lengths_gained + more)
    return replace(found, additions=replace(added, best_pair=two))


def with_one(found: Coverage, more: int) -> Coverage:
    added = found.additions
    assert added
    first, *others = added.single_blocks
    ones = (replace(first, lengths_gained=first.lengths_gained + more), *others)
    return replace(found, additions=replace(added, single_blocks=ones))


def miscounted(found: Coverage) -> Coverage:
    return replace(
        found, reach=replace(reach_of(found), buildable_count=reach_of(found).buildable_count + 1)
    )


@pytest.mark.parametrize("max_blocks", [None, 1, 2, 3])
def test_what_is_right_passes(max_blocks: int | None) -> None:
    assert verify_coverage(BLOCKS, survey(max_blocks)) == ()


WRONG: list[tuple[Callable[[Coverage], Coverage], str]] = [
    (lambda found: told(found, "4.5", 0), "buildable"),
    (lambda found: told(found, "4.25", 2), "buildable"),
    (lambda found: told(found, "4.5", 2), "fewest blocks"),
    (lambda found: told(found, "2", 2), "fewest blocks"),
    (lambda found: told(found, "7.5", 1), "fewest blocks"),
    (lambda found: with_loss(found, 1), "losses"),
    (lambda found: with_one(found, -1), "additions"),
    (lambda found: with_two(found, 1), "additions"),
    (miscounted, "lengths"),
]


@pytest.mark.parametrize(("spoil", "rule"), WRONG)
def test_what_is_wrong_is_named(spoil: Callable[[Coverage], Coverage], rule: str) -> None:
    """4.5 mm is three blocks, 4.25 mm no sum, 2 mm one block, 7.5 mm three."""
    assert rule in {breach.rule for breach in verify_coverage(BLOCKS, spoil(survey()))}


def test_a_gap_that_a_limit_makes_is_no_gap_without_it() -> None:
    limited = survey(2)

    assert verify_coverage(BLOCKS, limited) == ()
    unlimited = replace(limited, max_blocks=250)
    assert "buildable" in {breach.rule for breach in verify_coverage(BLOCKS, unlimited)}
    tighter = replace(limited, max_blocks=1)
    assert "max_blocks" in {breach.rule for breach in verify_coverage(BLOCKS, tighter)}


def test_other_blocks_are_another_survey() -> None:
    found = survey()

    assert verify_coverage(BLOCKS, found, exclude=["b1"])
    assert verify_coverage(BLOCKS, found, only=["b0", "b1"])
    assert verify_coverage(BLOCKS, found, wear_blocks="one")


def test_a_whole_set_passes() -> None:
    blocks = GaugeSet(id="s", composition="inch-81", grade="AS-1").blocks()
    grid = LengthGrid(start=inch("0.1"), stop=inch("4"), step=inch("0.0001"))

    for limit in (3, None):
        assert verify_coverage(blocks, coverage_of(blocks, grid, max_blocks=limit)) == ()


def test_nothing_known_is_nothing_wrong() -> None:
    cancel = Cancel()
    cancel.cancel()

    assert verify_coverage(BLOCKS, coverage_of(BLOCKS, GRID, cancel=cancel)) == ()
