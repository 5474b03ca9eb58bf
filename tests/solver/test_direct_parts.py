"""What the direct model is made of: place values, whole numbers, least sums, pieces handed out."""

import random
from datetime import timedelta
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from wrung import Block, Tolerance, composition, inch, mm, um
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.blockwise.floors import floors
from wrung.planning.blockwise.implied import place_values
from wrung.planning.blockwise.least_sums import least_sums
from wrung.planning.blockwise.progress import Progress
from wrung.planning.blockwise.scaled import scale
from wrung.planning.problem import Problem, build_problem, cliques_of
from wrung.targets import LengthTarget, Turn
from wrung.testing import SHIFT, Request, make_blocks, make_targets, requests


def problem(blocks: tuple[Block, ...], *targets: LengthTarget, joint_allowance: int = 0) -> Problem:
    return build_problem(
        Order(
            blocks=blocks,
            targets=targets,
            objective="fewest_blocks",
            joint_allowance=joint_allowance,
        )
    )


def ample() -> Deadline:
    return Deadline(60_000)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("inch-81", {inch("0.001"), inch("0.050")}),
        ("metric-112-1", {mm("0.01"), mm("0.5")}),
        ("metric-47-a", {mm("0.1"), mm("1")}),
        ("inch-36", {inch("0.001"), inch("0.01")}),
    ],
)
def test_the_steps_of_a_set_are_its_place_values(name: str, expected: set[int]) -> None:
    assert expected <= set(place_values(composition(name).nominals))


def test_a_set_with_blocks_missing_keeps_its_place_values() -> None:
    """Every seventh block of the inch 81-piece set is lent out."""
    rest = [n for place, n in enumerate(composition("inch-81").nominals) if place % 7]

    assert {inch("0.001"), inch("0.050")} <= set(place_values(rest))


def test_lengths_without_a_series_have_no_place_values() -> None:
    assert place_values([2, 3, 5, 11, 23]) == ()


def test_lengths_are_divided_by_what_all_share() -> None:
    """Steps of 0.5 mm for lengths, grains of 0.1 µm for errors."""
    blocks = (
        Block(id="a", nominal=mm("1.5"), deviation=um("0.3"), expanded_uncertainty=um("0.2")),
        Block(id="b", nominal=mm("2"), limit_deviation=um("0.4")),
    )
    scaled = scale(problem(blocks, *make_targets("3.5"), joint_allowance=um("0.1")))

    assert (scaled.step, scaled.nominals) == (mm("0.5"), (3, 4))
    assert (scaled.grain, scaled.deviations, scaled.burdens) == (um("0.1"), (3, 0), (3, 5))
    assert scaled.windows == (range(7, 8),)


def test_what_no_demand_can_use_is_left_out_before_dividing() -> None:
    """Neither a block that is too long nor a wear block that nobody wants spoils the step."""
    blocks = (*make_blocks("1 2 3.001"), *make_blocks("1.5", role="wear"))
    scaled = scale(problem(blocks, *make_targets("3")))

    assert (scaled.step, scaled.nominals) == (mm("1"), (1, 2))


def test_alike_pieces_are_counted() -> None:
    scaled = scale(problem(make_blocks("1 2 1"), *make_targets("4")))

    assert [kind.pieces for kind in scaled.kinds] == [(0, 2), (1,)]


def test_a_window_holds_only_what_some_stack_could_have() -> None:
    """From 0 up: a stack has a block, so not 0; from 3.4 mm to 4.6 mm in whole mm: 4 mm."""
    low = LengthTarget(ref="a", length=mm("1"), tolerance=Tolerance(lower=-mm("1"), upper=mm("1")))
    near = Tolerance(lower=-mm("0.6"), upper=mm("0.6"))
    scaled = scale(
        problem(make_blocks("1 2"), low, LengthTarget(ref="b", length=mm("4"), tolerance=near))
    )

    assert scaled.windows == (range(1, 3), range(4, 5))


@given(st.integers(0, 10_000))
def test_least_sums_are_those_of_all_subsets(seed: int) -> None:
    """Cheapest cost per length, with costs below zero too, against trying every subset."""
    rng = random.Random(seed)  # noqa: S311 -- a test
    lengths = [rng.randint(1, 9) for _ in range(7)]
    blocks = make_blocks(" ".join(str(n) for n in lengths))
    scaled = scale(problem(blocks, *make_targets("30")))
    costs = [rng.randint(-5, 9) for _ in scaled.kinds]
    sums = least_sums(scaled, costs, ample())
    assert sums is not None
    pieces = [(kind, piece) for kind, k in enumerate(scaled.kinds) for piece in k.pieces]
    subsets = [chosen for count in range(8) for chosen in combinations(pieces, count)]
    cheapest: dict[int, int] = {}
    for chosen in subsets:
        length = sum(scaled.nominals[kind] for kind, _ in chosen)
        cost = sum(costs[kind] for kind, _ in chosen)
        cheapest[length] = min(cost, cheapest.get(length, cost))
    window = scaled.windows[0]
    reached, least = sums.each(range(window.stop))

    assert dict(zip(reached.tolist(), least.tolist(), strict=True)) == {
        length: cost for length, cost in sorted(cheapest.items()) if length < window.stop
    }
    assert sums.least(window) == cheapest.get(window.start)


def test_least_sums_are_left_out_where_the_time_is_up() -> None:
    scaled = scale(problem(make_blocks("1 2"), *make_targets("3")))

    assert least_sums(scaled, [1, 1], Deadline(0)) is None


def test_least_sums_are_left_out_where_they_would_be_too_large() -> None:
    """Blocks of 1 m that share only 0.01 nm have 10**11 different lengths."""
    blocks = tuple(Block(id=str(n), nominal=mm("1000") + n, limit_deviation=0) for n in range(2))
    scaled = scale(problem(blocks, LengthTarget(ref="t", length=mm("2000") + 1)))

    assert least_sums(scaled, [1, 1], ample()) is None


@given(requests())
def test_demands_that_cannot_be_built_alone_are_closed(request: Request) -> None:
    """A closed window means that no subset of the blocks has its length within the most blocks."""
    of = build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    closed = set(range(len(of.demands))) - set(floors(of, ample()).scaled.open)
    for index in closed:
        demand = of.demands[index]
        stacks = (
            chosen
            for count in range(1, demand.most + 1)
            for chosen in combinations(of.pieces, count)
            if sum(piece.wear for piece in chosen) == demand.wear
        )
        lengths = {sum(piece.nominal for piece in chosen) for chosen in stacks}

        assert not any(demand.low <= length <= demand.high for length in lengths)


@given(requests(max_blocks=8, max_targets=4))
def test_pieces_are_handed_out_without_using_one_twice(request: Request) -> None:
    """As many of each kind as every clique leaves room for, whatever the times."""
    of = build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    scaled = scale(of)
    counts: list[dict[int, int] | None] = [{} for _ in of.demands]
    for kind, alike in enumerate(scaled.kinds):
        for demand, wanted in enumerate(counts):
            cliques = [clique for clique in of.cliques if demand in clique]
            taken = max(sum((counts[k] or {}).get(kind, 0) for k in clique) for clique in cliques)
            assert wanted is not None
            wanted[kind] = len(alike.pieces) - taken
    plan = scaled.plan(counts)

    for clique in of.cliques:
        used = [piece for k in clique for piece in plan[k] or ()]
        assert len(used) == len(set(used))
    for wanted, stack in zip(counts, plan, strict=True):
        assert len(stack or ()) == sum((wanted or {}).values())


SPANS = st.tuples(st.integers(0, 8), st.integers(1, 4), st.sampled_from((None, None, "a", "b")))


@settings(max_examples=400)
@given(st.lists(SPANS, min_size=3, max_size=9))
def test_members_of_a_sequence_with_times_of_their_own_get_all_their_pieces(
    times: list[tuple[int, int, str | None]],
) -> None:
    """They may share a piece at one time, so that the first free piece is not always there."""
    of = _in_turn(times)
    plan = scale(of).plan([{0: 1}] * len(times))

    assert all(stack is not None and len(stack) == 1 for stack in plan)
    for clique in of.cliques:
        assert len({plan[demand] for demand in clique}) == len(clique)


def _in_turn(times: list[tuple[int, int, str | None]]) -> Problem:
    """Stacks of one block of 5 mm, of which there are just as many as some clique needs."""
    targets = [
        LengthTarget(
            ref=f"t{n}",
            length=mm("5"),
            needed_from=SHIFT + timedelta(hours=start),
            needed_until=SHIFT + timedelta(hours=start + length),
        )
        for n, (start, length, _) in enumerate(times)
    ]
    of = problem(make_blocks(" ".join(["5"] * len(times))), *targets)
    demands = tuple(
        replace(
            demand,
            requirement=replace(
                demand.requirement, turn=None if of_ is None else Turn(of=of_, step=(place,))
            ),
        )
        for place, (demand, (_, _, of_)) in enumerate(zip(of.demands, times, strict=True))
    )
    cliques = cliques_of(demands)
    pieces = of.pieces[: max(map(len, cliques))]
    return replace(of, demands=demands, cliques=cliques, pieces=pieces)


def test_a_demand_that_is_not_served_gets_nothing() -> None:
    scaled = scale(problem(make_blocks("1 2"), *make_targets("1 2")))

    assert scaled.plan([None, {1: 1}]) == (None, (1,))


class TestKnown:
    def known(self) -> Progress:
        """Of 3 mm from 1 mm and 2 mm, and 3 mm from the block itself; 0.2 µm a block."""
        of = problem(make_blocks("1 2 3"), *make_targets("3 3"))
        return Progress(of, ((0, 1), None), (2,))

    def test_a_better_plan_is_taken_and_a_worse_one_is_not(self) -> None:
        known = self.known()
        known.offer(((2,), None))
        known.offer(((0, 1), None))

        assert known.plan == ((2,), None)

    def test_goals_say_nothing_before_the_number_served_is_proven(self) -> None:
        known = self.known()
        known.bounded("blocks", 1)
        finding = known.finding()

        assert (finding.served_proven, finding.bounds.served) == (False, 2)
        assert finding.bounds.total_blocks is None

    def test_a_goal_says_nothing_before_the_goals_before_it_are_settled(self) -> None:
        known = self.known()
        known.serves_at_most((1,))
        known.bounded("blocks", 1)
        known.bounded("largest", um("0.2"))
        finding = known.finding()

        assert finding.bounds.total_blocks == 1
        assert finding.bounds.largest_worst_case_error is None

    def test_one_stack_s_largest_error_is_their_total(self) -> None:
        known = self.known()
        known.serves_at_most((1,))
        known.offer(((2,), None))
        known.bounded("blocks", 1)
        known.bounded("largest", um("0.2"))
        finding = known.finding()

        assert finding.objective_proven
        assert finding.bounds.total_worst_case_error == um("0.2")
