"""One stack of inch and metric blocks, against every choice of the blocks."""

from collections.abc import Callable, Sequence
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.problems import problem_of
from wrung import mm
from wrung.deadline import Deadline
from wrung.planning.knapsack import Want
from wrung.planning.problem import Demand, Problem
from wrung.planning.two_units import of_two_units
from wrung.testing import Request, make_blocks, make_targets

INCH = ("0.1001", "0.101", "0.125", "0.15", "0.2", "0.5", "1")
METRIC = ("1.0005", "1.01", "1.27", "2.54", "5", "12.7", "25.4")
WIDTHS = tuple(mm(width) for width in ("0", "0.0001", "0.005", "0.4", "30"))


def shelf(inch: Sequence[str], metric: Sequence[str]) -> Problem:
    blocks = make_blocks(" ".join(inch), unit="in")
    named = tuple(replace(block, id=f"in {block.id}") for block in blocks)
    every = (*named, *make_blocks(" ".join(metric)))
    return problem_of(Request(blocks=every, targets=make_targets("50")))


def serving(problem: Problem, demand: Demand) -> list[tuple[int, int]]:
    """Length and number of pieces of every stack that serves the demand."""
    lengths = [piece.nominal for piece in problem.pieces]
    return [
        (sum(chosen), count)
        for count in range(min(demand.most, len(lengths)) + 1)
        for chosen in combinations(lengths, count)
        if demand.low <= sum(chosen) <= demand.high
    ]


@pytest.mark.parametrize(
    ("want", "key"),
    [
        ("fewest", lambda stack: stack[1]),
        ("longest", lambda stack: -stack[0]),
        ("shortest", lambda stack: stack[0]),
    ],
)
@given(
    inch=st.lists(st.sampled_from(INCH), min_size=1, max_size=5),
    metric=st.lists(st.sampled_from(METRIC), min_size=1, max_size=5),
    taken=st.sets(st.integers(0, 9)),
    off=st.sampled_from((0, 0, 0, 1, mm("0.1"), -mm("0.1"))),
    width=st.sampled_from(WIDTHS),
    most=st.sampled_from((1, 2, 3, 254, 1000)),
)
def test_the_wanted_stack_is_found_if_there_is_one(  # noqa: PLR0913 - what stacks depend on
    *,
    want: Want,
    key: Callable[[tuple[int, int]], int],
    inch: list[str],
    metric: list[str],
    taken: set[int],
    off: int,
    width: int,
    most: int,
) -> None:
    problem = shelf(inch, metric)
    middle = sum(piece.nominal for k, piece in enumerate(problem.pieces) if k not in taken) + off
    demand = replace(
        problem.demands[0], low=max(middle - width, 1), high=max(middle + width, 1), most=most
    )
    both = of_two_units(problem, range(len(problem.pieces)), demand, demand.high, Deadline(60_000))
    assert both is not None
    stack, ways = both.stack(demand, want).stack, serving(problem, demand)

    assert (stack is not None) == bool(ways)
    if stack is not None:
        found = (sum(problem.pieces[piece].nominal for piece in stack), len(set(stack)))
        assert found in ways
        assert key(found) == min(map(key, ways))


def test_a_wear_block_that_is_not_wanted_is_no_second_unit() -> None:
    """Without any length of the other unit, there is no step to count a window in."""
    wear = make_blocks("2", role="wear")
    blocks = (*make_blocks("0.1001 1 2", unit="in"), *wear)
    problem = problem_of(Request(blocks=blocks, targets=make_targets("50")))
    demand = problem.demands[0]

    assert of_two_units(problem, range(4), demand, demand.high, Deadline(60_000)) is None


def test_blocks_of_one_unit_have_a_quicker_way() -> None:
    problem = shelf((), METRIC)
    demand = problem.demands[0]

    assert of_two_units(problem, range(7), demand, demand.high, Deadline(60_000)) is None
