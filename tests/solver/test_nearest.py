"""Nearest lengths, held to a search through every set of blocks."""

from collections.abc import Iterator, Sequence
from itertools import combinations

import pytest
from hypothesis import given

from wrung import Block, GaugeSet, LengthTarget, Nearest, Unmet, inch, mm, solve
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.problem import Problem, build_problem
from wrung.planning.unmet import nearest
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import TUNING, Tuning

WEAR = {"none": 0, "one": 1, "both": 2}


def buildable(blocks: Sequence[Block], target: LengthTarget) -> Iterator[int]:
    """Every nominal length that a stack as the target asks for can have."""
    most = len(blocks) if target.max_blocks is None else target.max_blocks
    for count in range(1, min(most, len(blocks)) + 1):
        for chosen in combinations(blocks, count):
            worn = sum(block.role == "wear" for block in chosen)
            steps = sum(block.body is not None for block in chosen)
            most_steps = 0 if target.wear_blocks == "both" else 1
            if worn == WEAR[target.wear_blocks] and steps <= most_steps:
                yield sum(block.nominal for block in chosen)


def problem_of(request: Request) -> Problem:
    """The request without its exclusions."""
    return build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective=request.objective,
            joint_allowance=0,
        )
    )


def length(nearest: Nearest | None) -> int | None:
    """Its length, if there is one."""
    return None if nearest is None else nearest.length


@pytest.mark.parametrize("listed", [True, False], ids=["sums listed", "model searched"])
@given(request_=requests(max_targets=1))
def test_nearest_lengths_are_those_of_an_exhaustive_search(
    *, listed: bool, request_: Request
) -> None:
    """The longest below and the shortest above, by either method."""
    problem, target = problem_of(request_), request_.targets[0]
    free = tuple(range(len(request_.blocks)))
    lengths = set(buildable(request_.blocks, target))
    low, high = problem.demands[0].low, problem.demands[0].high

    deadline = Deadline(60_000, tuning=TUNING if listed else Tuning(most_sums=-1))
    below, above = nearest(problem, 0, free, deadline)

    assert length(below) == max((n for n in lengths if n < low), default=None)
    assert length(above) == min((n for n in lengths if n > high), default=None)


@pytest.mark.parametrize("listed", [True, False], ids=["sums listed", "model searched"])
@given(request_=requests(max_targets=1))
def test_the_blocks_of_a_nearest_length_add_up_to_it(*, listed: bool, request_: Request) -> None:
    """Named blocks are on the shelf, once, and as many and as worn as the target asks for."""
    problem, target = problem_of(request_), request_.targets[0]
    shelf = {block.id: block for block in request_.blocks}
    free = tuple(range(len(request_.blocks)))

    deadline = Deadline(60_000, tuning=TUNING if listed else Tuning(most_sums=-1))
    for each in nearest(problem, 0, free, deadline):
        if each is not None:
            assert len(set(each.blocks)) == len(each.blocks)
            blocks = [shelf[name] for name in each.blocks]
            assert each.length in set(buildable(blocks, target))
            assert each.length == sum(block.nominal for block in blocks)


def unmet(blocks: Sequence[Block], *targets: LengthTarget) -> Unmet:
    """The one entry for a target without a stack."""
    (entry,) = solve(blocks, targets, time_limit_ms=60_000).unmet
    return entry


def test_a_length_in_the_gap_of_a_real_set_names_both_sides_of_the_gap() -> None:
    """0.1011 in cannot be built from the 81-block inch set: no two blocks are that short."""
    shelf = GaugeSet(id="s", composition="inch-81", grade="AS-1").blocks()

    entry = unmet(shelf, LengthTarget(ref="t", length=inch("0.1011")))

    assert entry.reason == "cannot_be_built"
    assert entry.nearest_below == Nearest(length=inch("0.101"), blocks=("s/0.101",))
    assert entry.nearest_above == Nearest(length=inch("0.102"), blocks=("s/0.102",))


def test_nothing_shorter_than_the_thinnest_block_is_below() -> None:
    """A target below every block has only a longer neighbour."""
    entry = unmet(make_blocks("1 2"), *make_targets("0.4"))

    assert (entry.nearest_below, length(entry.nearest_above)) == (None, mm("1"))


def test_nothing_longer_than_all_blocks_is_above() -> None:
    """A target above the whole shelf has only a shorter neighbour."""
    entry = unmet(make_blocks("1 2"), *make_targets("7"))

    assert (length(entry.nearest_below), entry.nearest_above) == (mm("3"), None)


def test_without_a_block_there_is_no_neighbour() -> None:
    """An empty shelf builds nothing."""
    entry = unmet((), *make_targets("7"))

    assert entry == Unmet(target="t0", reason="cannot_be_built")


def test_blocks_in_use_are_not_used_for_a_neighbour() -> None:
    """Beside a stack of the 5, only the 1 and the 2 are left."""
    entry = unmet(make_blocks("5 1 2"), *make_targets("5 5"))

    assert entry.reason == "blocks_in_use"
    assert (length(entry.nearest_below), entry.nearest_above) == (mm("3"), None)


def test_a_search_without_time_leaves_the_neighbours_out() -> None:
    """What was not proven is not claimed."""
    request_ = Request(blocks=make_blocks("1 2"), targets=make_targets("1.5"))
    late = Deadline(0)

    assert nearest(problem_of(request_), 0, (0, 1), late) == (None, None)
