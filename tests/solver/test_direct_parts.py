"""What the direct model is made of: whole numbers, pieces handed out."""

from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from wrung import Block, Tolerance, mm, um
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.problem import Problem, build_problem
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


def test_lengths_are_divided_by_what_all_share() -> None:
    """Steps of 0.5 mm for lengths, grains of 0.1 µm for errors."""
    blocks = (
        Block(id="a", nominal=mm("1.5"), deviation=um("0.3"), expanded_uncertainty=um("0.2")),
        Block(id="b", nominal=mm("2"), limit_deviation=um("0.4")),
    )
    scaled = Scaled(problem(blocks, *make_targets("3.5"), joint_allowance=um("0.1")))

    assert scaled.nominals == [3, 4]
    assert (scaled.grain, scaled.deviations, scaled.burdens) == (um("0.1"), [3, 0], [3, 5])
    assert scaled.windows == (range(7, 8),)


def test_what_no_demand_can_use_is_left_out_before_dividing() -> None:
    """Neither a block that is too long nor a wear block that nobody wants spoils the step."""
    blocks = (*make_blocks("1 2 3.001"), *make_blocks("1.5", role="wear"))
    scaled = Scaled(problem(blocks, *make_targets("3")))

    assert scaled.windows == (range(3, 4),)


def test_alike_pieces_are_counted() -> None:
    scaled = Scaled(problem(make_blocks("1 2 1"), *make_targets("4")))

    assert scaled.pieces == ((0, 2), (1,))


def test_a_window_holds_only_what_some_stack_could_have() -> None:
    """From 0 up: a stack has a block, so not 0; from 3.4 mm to 4.6 mm in whole mm: 4 mm."""
    low = LengthTarget(ref="a", length=mm("1"), tolerance=Tolerance(lower=-mm("1"), upper=mm("1")))
    near = Tolerance(lower=-mm("0.6"), upper=mm("0.6"))
    scaled = Scaled(
        problem(make_blocks("1 2"), low, LengthTarget(ref="b", length=mm("4"), tolerance=near))
    )

    assert scaled.windows == (range(1, 3), range(4, 5))


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
    scaled = Scaled(of)
    counts: list[dict[int, int] | None] = [{} for _ in of.demands]
    same = {kind: group for group in scaled.same_blocks for kind in group}
    for kind, alike in enumerate(scaled.pieces):
        for demand, wanted in enumerate(counts):
            cliques = [clique for clique in of.cliques if demand in clique]
            taken = max(
                sum((counts[k] or {}).get(own, 0) for k in clique for own in same[kind])
                for clique in cliques
            )
            assert wanted is not None
            wanted[kind] = len(alike) - taken
    plan = scaled.plan(counts)

    for clique in of.cliques:
        used = [of.pieces[piece].body for k in clique for piece in plan[k] or ()]
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
    plan = Scaled(of).plan([{0: 1}] * len(times))

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
    of = replace(of, demands=demands)
    return replace(of, pieces=of.pieces[: max(map(len, of.cliques))])


def test_a_demand_that_is_not_served_gets_nothing() -> None:
    scaled = Scaled(problem(make_blocks("1 2"), *make_targets("1 2")))

    assert scaled.plan([None, {1: 1}]) == (None, (1,))
