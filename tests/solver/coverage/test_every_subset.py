"""Small inventories made up at random, held to trying every subset of their blocks."""

from collections import Counter
from itertools import combinations, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import Struct

from solver.coverage.every_subset import best, compared, fewest
from wrung import coverage_of, inch, mm
from wrung.answers import Wanted
from wrung.blocks import Block
from wrung.checker.coverage import verify_coverage
from wrung.coverage import Coverage, LengthGrid
from wrung.lengths import Unit, parse
from wrung.targets.requirement import WearBlocks
from wrung.testing import NOMINALS, shelves

STEPS: dict[Unit, list[tuple[int, int]]] = {
    "mm": [(mm("0.001"), 3000), (mm("0.0125"), 700), (mm("0.5"), 20), (mm("0.5"), 5)],
    "in": [(inch("0.0001"), 3000), (inch("0.025"), 30), (inch("0.05"), 8)],
}
"""Steps and how many of them, so that sums of some blocks are within."""


class Asked(Struct, frozen=True, kw_only=True):
    """The arguments of `wrung.coverage_of`."""

    blocks: tuple[Block, ...]
    grid: LengthGrid
    max_blocks: int | None
    wear: WearBlocks
    offers: tuple[Wanted, ...]

    @property
    def most(self) -> int:
        return self.max_blocks or 99

    def survey(self) -> Coverage:
        return coverage_of(
            self.blocks,
            self.grid,
            max_blocks=self.max_blocks,
            wear_blocks=self.wear,
            offers=self.offers,
            time_limit_ms=60_000,
        )


@st.composite
def grids(draw: st.DrawFn, blocks: tuple[Block, ...]) -> LengthGrid:
    """Through a sum that can be built; the step is of a unit that the blocks are marked in."""
    chosen = draw(st.lists(st.sampled_from(blocks), min_size=1, max_size=3, unique=True))
    middle = sum(block.nominal for block in chosen)
    step, points = draw(st.sampled_from(STEPS[chosen[0].unit]))
    before = draw(st.sampled_from((0, 3, points // 4, points)))
    start = max(middle - before * step, middle % step or step)
    return LengthGrid(start=start, stop=start + points * step + draw(st.integers(0, 1)), step=step)


@st.composite
def questions(draw: st.DrawFn) -> Asked:
    """A whole question."""
    blocks = draw(shelves(min_blocks=2, max_blocks=7))
    # Lengths of the shelf's own units, so that they often complete something.
    units = {block.unit for block in blocks}
    lengths = [parse(text, unit) for unit in sorted(units) for text in NOMINALS[unit]]
    offered = st.builds(
        Wanted,
        nominal=st.sampled_from(lengths),
        role=st.sampled_from(("gauge", "gauge", "gauge", "wear")),
    )
    return Asked(
        blocks=blocks,
        grid=draw(grids(blocks)),
        max_blocks=draw(st.sampled_from((None, None, 1, 2, 3, 4))),
        wear=draw(st.sampled_from(("none",) * 7 + ("one", "one", "both"))),
        offers=tuple(draw(st.lists(offered, min_size=1, max_size=5))),
    )


@given(asked=questions())
@settings(deadline=None)
def test_what_can_be_built_and_of_how_few_blocks(asked: Asked) -> None:
    found = asked.survey()
    assert verify_coverage(asked.blocks, found, wear_blocks=asked.wear) == ()
    expected = fewest(asked.blocks, asked.grid, most=asked.most, wear=asked.wear)

    reach = found.reach
    assert reach
    assert found.outcome == "complete"
    counts = zip(asked.grid.points, reach.fewest, strict=True)
    assert {point: count for point, count in counts if count} == expected
    assert reach.buildable_count == len(expected)
    assert {each.block_count: each.length_count for each in reach.histogram} == Counter(
        expected.values()
    )


@given(asked=questions())
@settings(deadline=None)
def test_runs_and_gaps_are_the_grid_in_pieces(asked: Asked) -> None:
    """Adjacent, alternating, complete; gaps are the ones that are not built, largest first."""
    reach = asked.survey().reach
    assert reach
    expected = fewest(asked.blocks, asked.grid, most=asked.most, wear=asked.wear)

    points = [p for run in reach.runs for p in range(run.first, run.last + 1, asked.grid.step)]
    if reach.run_count == len(reach.runs):
        assert points == list(asked.grid.points)
    for run in reach.runs:
        inside = [expected.get(p, 0) for p in range(run.first, run.last + 1, asked.grid.step)]
        assert len(inside) == run.length_count
        assert {count > 0 for count in inside} == {run.buildable}
        assert run.max_blocks_needed == max(inside)
    built = [run.buildable for run in reach.runs]
    assert all(one != other for one, other in pairwise(built))
    sizes = [gap.length_count for gap in reach.gaps]
    assert sizes == sorted(sizes, reverse=True)
    if reach.gap_count == len(reach.gaps):
        assert sum(sizes) == len(asked.grid.points) - reach.buildable_count


@given(asked=questions())
@settings(deadline=None)
def test_what_is_lost_without_each_block(asked: Asked) -> None:
    losses = asked.survey().losses
    assert losses is not None
    before = fewest(asked.blocks, asked.grid, most=asked.most, wear=asked.wear)
    assert {loss.block for loss in losses} == {block.id for block in asked.blocks}

    body = {block.id: block.body or block.id for block in asked.blocks}
    for loss in losses:
        others = [block for block in asked.blocks if body[block.id] != body[loss.block]]
        after = fewest(others, asked.grid, most=asked.most, wear=asked.wear)
        assert (loss.lengths_lost, loss.lengths_with_more_blocks) == compared(before, after)
    greatest = [(loss.lengths_lost, loss.lengths_with_more_blocks) for loss in losses]
    assert greatest == sorted(greatest, reverse=True)


@given(asked=questions())
@settings(deadline=None)
def test_the_best_one_and_the_best_two_to_add(asked: Asked) -> None:
    """By the points they restore, of equal ones the shortest."""
    found = asked.survey().additions
    assert found
    assert found.best_pair_proven
    ones = [(offer,) for offer in asked.offers]
    one = best(asked.blocks, ones, asked.grid, most=asked.most, wear=asked.wear)
    pairs = list(combinations(asked.offers, 2))
    two = best(asked.blocks, pairs, asked.grid, most=asked.most, wear=asked.wear)

    if one[0]:
        first = found.single_blocks[0]
        assert (first.lengths_gained, -first.blocks[0].nominal) == one
    else:
        assert found.single_blocks == ()
    if two[0] > one[0]:
        assert found.best_pair
        assert (
            found.best_pair.lengths_gained,
            -sum(b.nominal for b in found.best_pair.blocks),
        ) == two
    else:
        assert found.best_pair is None


@given(asked=questions())
@settings(deadline=None)
def test_what_an_addition_brings_is_what_the_same_blocks_on_the_shelf_bring(asked: Asked) -> None:
    found = asked.survey().additions
    assert found
    before = fewest(asked.blocks, asked.grid, most=asked.most, wear=asked.wear)

    for addition in [*found.single_blocks, *([found.best_pair] if found.best_pair else [])]:
        shelf: list[Block | Wanted] = [*asked.blocks, *addition.blocks]
        after = fewest(shelf, asked.grid, most=asked.most, wear=asked.wear)
        assert addition.lengths_gained == compared(after, before)[0]
        assert addition.lengths_with_fewer_blocks == compared(after, before)[1]
