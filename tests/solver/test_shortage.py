"""Why not every target can be had: the conflict is real and smallest, the added blocks help."""

from collections.abc import Collection, Sequence
from datetime import timedelta
from itertools import combinations

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.oracle import best
from wrung import (
    Answer,
    Block,
    GaugeSet,
    LengthTarget,
    Requirement,
    Shortage,
    Unit,
    Wanted,
    WearBlocks,
    all_compositions,
    inch,
    mm,
    solve,
    um,
)
from wrung.compositions import compositions_with
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.building.fine import each_step
from wrung.planning.building.proofs import Proofs, needs
from wrung.planning.execution import answered
from wrung.planning.problem import build_problem
from wrung.stack_names import StackName
from wrung.targets import LimitsTarget
from wrung.testing import SHIFT, Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

INCH_81 = GaugeSet(id="s", composition="inch-81", grade="AS-1").blocks()


def run(request: Request) -> Answer:
    """Solve with time to spare, for the explanation too."""
    order = Order(
        blocks=request.blocks,
        targets=request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )
    ample = Deadline(60_000, tuning=Tuning(most_explaining_ms=60_000))
    return answered(order, ample, ample)


def bought(wanted: Sequence[Wanted]) -> tuple[Block, ...]:
    """The blocks to add, as blocks on the shelf."""
    return tuple(
        Block(
            id=f"new{place}",
            nominal=block.nominal,
            limit_deviation=um("0.1"),
            role=block.role,
            unit=block.unit,
        )
        for place, block in enumerate(wanted)
    )


def with_added(request: Request, shortage: Shortage) -> Answer:
    """The answer to the same request with the blocks added."""
    new = bought(shortage.blocks_to_add)
    only = None if request.only is None else (*request.only, *(block.id for block in new))
    return run(replace(request, blocks=request.blocks + new, only=only))


def helped(request: Request, shortage: Shortage) -> Request:
    """The request without the targets that are not helped."""
    left = {name.target for name in shortage.not_helped}
    return replace(request, targets=tuple(t for t in request.targets if t.ref not in left))


def requirements(request: Request) -> list[Requirement]:
    """The stacks that the request asks for."""
    return [r for target in request.targets for r in target.requirements()]


def served(request: Request, refs: Collection[str]) -> int:
    """How many of these targets alone an exhaustive search serves."""
    blocks = [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]
    return best(blocks, [r for r in requirements(request) if r.target in refs]).served


@given(requests())
def test_the_conflict_is_one_and_no_smaller_set_is(request_: Request) -> None:
    """Every set of fewer targets can be served, the conflict itself cannot."""
    shortage = run(request_).shortage
    assume(shortage is not None)
    assert shortage is not None
    refs = [target.ref for target in request_.targets]

    assert shortage.smallest_conflict_proven
    assert served(request_, [name.target for name in shortage.conflict]) < len(shortage.conflict)
    for smaller in combinations(refs, len(shortage.conflict) - 1):
        assert served(request_, smaller) == len(smaller)


@given(requests())
def test_the_added_blocks_let_every_target_be_served(request_: Request) -> None:
    """Solved again with them, nothing is unmet but what is not helped."""
    shortage = run(request_).shortage
    assume(shortage is not None and shortage.blocks_to_add)
    assert shortage is not None

    assert with_added(helped(request_, shortage), shortage).outcome == "optimal"


@given(requests(max_targets=4))
def test_simple_proofs_never_claim_too_much(request_: Request) -> None:
    """No plan is better than what they call the most, and what they call a conflict is one."""
    problem = build_problem(
        Order(
            blocks=request_.blocks,
            targets=request_.targets,
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    wanted = requirements(request_)
    proofs = Proofs(problem)
    conflict = proofs.known_conflict(Deadline(60_000))
    most = proofs.served_at_most(problem.sizes, Deadline(60_000))

    assert most >= best(request_.blocks, wanted).by_priority
    if conflict is not None:
        assert best(request_.blocks, [wanted[k] for k in conflict]).served < len(conflict)


def test_nine_tenth_blocks_serve_nine_targets_at_most() -> None:
    """Of the 81-block inch set nine blocks carry a fourth decimal; a tenth target finds none."""
    targets = make_targets(" ".join(f"0.{k}00{k}" for k in range(1, 10)) + " 1.0001", unit="in")
    problem = build_problem(
        Order(blocks=INCH_81, targets=targets, objective="fewest_blocks", joint_allowance=0)
    )

    assert [need.supply for need in needs(problem) if need.conflict(range(10))] == [9]
    assert Proofs(problem).served_at_most((10,), Deadline(60_000)) == (9,)


def test_two_targets_cannot_share_the_only_way_to_a_last_digit() -> None:
    """With 1.001 and 1.002 alone three thousandths can be had once, whatever else there is."""
    targets = make_targets("5.003 6.003")
    problem = build_problem(
        Order(
            blocks=make_blocks("1.001 1.002 1 1 1 2 2 2 3 3 4 4"),
            targets=targets,
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )

    assert not any(need.conflict((0, 1)) for need in needs(problem))
    assert any(fine.packed((0, 1), Deadline(60_000)) == 1 for fine in each_step(problem))
    assert Proofs(problem).known_conflict(Deadline(60_000)) == (0, 1)


def test_twelve_targets_of_one_inch_set_lack_blocks_of_the_finest_series() -> None:
    """What would help are blocks with a fourth decimal; with them all twelve are served."""
    lengths = "0.2341 0.3512 0.4273 0.5134 0.6925 0.7256 0.8417 0.9378 1.0129 1.1241 1.2612 1.3373"
    targets = make_targets(lengths, unit="in")

    answer = solve(INCH_81, targets, time_limit_ms=60_000)

    assert answer.outcome == "partial"
    assert answer.shortage is not None
    assert 2 <= len(answer.shortage.conflict) <= 10
    assert len(answer.shortage.blocks_to_add) == len(answer.unmet)
    assert all(
        inch("0.1001") <= block.nominal <= inch("0.1009") and block.unit == "in"
        for block in answer.shortage.blocks_to_add
    )


def test_the_missing_member_of_a_set_is_named() -> None:
    """Without its 1.0005 the 112-block set cannot build a half thousandth."""
    shelf = GaugeSet(id="s", composition="metric-112-1", grade="1", missing=(mm("1.0005"),))

    answer = solve(shelf.blocks(), make_targets("29.7585"))

    assert answer.outcome == "infeasible"
    assert answer.shortage == Shortage(
        cause="blocks_missing",
        conflict=(StackName(target="t0"),),
        smallest_conflict_proven=True,
        blocks_to_add=(Wanted(nominal=mm("1.0005"), unit="mm"),),
    )


def test_for_a_length_finer_than_every_series_no_block_is_invented() -> None:
    """No block that can be had is so fine; the nearest lengths remain."""
    answer = run(Request(blocks=INCH_81, targets=make_targets("0.350612", unit="in")))

    assert answer.shortage is not None
    assert answer.shortage.blocks_to_add == ()
    (unmet,) = answer.unmet
    assert unmet.nearest_below is not None
    assert unmet.nearest_below.length == inch("0.3506")


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_of_an_empty_shelf_whole_stacks_are_to_be_had(unit: Unit) -> None:
    """More than two members of sets of the same unit, and with them the length is there."""
    request_ = Request(
        blocks=(), targets=make_targets("76.5435" if unit == "mm" else "2.8437", unit=unit)
    )

    shortage = run(request_).shortage

    assert shortage is not None
    assert len(shortage.blocks_to_add) > 2
    assert {block.unit for block in shortage.blocks_to_add} == {unit}
    assert with_added(request_, shortage).outcome == "optimal"


# Only about a fifth of the requests drawn here can be helped by blocks at all.
@settings(
    max_examples=30, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow]
)
@given(st.data())
def test_every_block_to_add_is_a_member_of_a_composition(data: st.DataObject) -> None:
    """Of a set with members missing and for lengths of any fineness; and the blocks help."""
    chosen = data.draw(st.sampled_from([c for c in all_compositions() if c.role == "gauge"]))
    nominals = data.draw(st.lists(st.sampled_from(chosen.nominals), max_size=8, unique=True))
    # The finest can seldom be built, whatever is added.
    fine, coarse = {
        "mm": (mm("0.0005"), mm("0.01")),
        "in": (inch("0.00005"), inch("0.001")),
    }[chosen.unit]
    step, most = data.draw(st.sampled_from(((fine, 90_000), (coarse, 9_000), (coarse, 9_000))))
    lengths = data.draw(st.lists(st.integers(min_value=1, max_value=most), min_size=1, max_size=3))
    blocks = tuple(
        Block(id=f"b{k}", nominal=n, limit_deviation=um("0.1"), unit=chosen.unit)
        for k, n in enumerate(nominals)
    )
    targets = tuple(
        LengthTarget(
            ref=f"t{k}",
            length=each * step,
            max_blocks=data.draw(st.none() | st.integers(min_value=1, max_value=5)),
            wear_blocks=data.draw(st.sampled_from(WEAR)),
        )
        for k, each in enumerate(lengths)
    )
    request_ = Request(blocks=blocks, targets=targets)

    shortage = run(request_).shortage

    assume(shortage is not None and shortage.blocks_to_add)
    assert shortage is not None
    for block in shortage.blocks_to_add:
        assert compositions_with(block.nominal, block.unit, block.role)
    assert not with_added(helped(request_, shortage), shortage).unmet


@settings(max_examples=40, suppress_health_check=[HealthCheck.too_slow])
@given(requests(max_blocks=6), st.data())
def test_what_nothing_helps_takes_no_help_from_others(
    request_: Request, data: st.DataObject
) -> None:
    """Wherever it stands, all others are served with what is to be added: searched exhaustively."""
    place = data.draw(st.integers(min_value=0, max_value=len(request_.targets)))
    none = LengthTarget(ref="none", length=mm("9"), max_blocks=1, wear_blocks="both")
    targets = (*request_.targets[:place], none, *request_.targets[place:])
    alone = run(request_).shortage
    assume(alone is not None and alone.blocks_to_add and not alone.not_helped)

    shortage = run(replace(request_, targets=targets)).shortage

    assert shortage is not None
    assert shortage.not_helped == (StackName(target="none"),)
    new = bought(shortage.blocks_to_add)
    only = None if request_.only is None else (*request_.only, *(block.id for block in new))
    richer = replace(request_, blocks=request_.blocks + new, only=only)
    assert served(richer, [t.ref for t in request_.targets]) == len(requirements(request_))


WEAR: tuple[WearBlocks, ...] = ("none", "one", "both")


def test_the_time_in_which_blocks_are_contended_is_said() -> None:
    """From when the later starts until the earlier ends; nothing where a time is open."""
    hour = timedelta(hours=1)
    early = LengthTarget(ref="a", length=mm("2.001"), needed_until=SHIFT + 2 * hour)
    late = LengthTarget(
        ref="b", length=mm("3.001"), needed_from=SHIFT + hour, needed_until=SHIFT + 9 * hour
    )

    shortage = solve(make_blocks("1.001 1 2"), (early, late)).shortage

    assert shortage is not None
    assert (shortage.contended_from, shortage.contended_until) == (SHIFT + hour, SHIFT + 2 * hour)
    always = solve(make_blocks("1.001 1 2"), make_targets("2.001 3.001")).shortage
    assert always is not None
    assert (always.contended_from, always.contended_until) == (None, None)


def test_a_step_is_named_with_which_limits_can_be_built() -> None:
    """Limits of a fit are finer than the blocks; asked for again with the step, both are there."""
    blocks = GaugeSet(id="s", composition="metric-112-1", grade="1").blocks()
    target = LimitsTarget(ref="bore", lower=mm("20.0003"), upper=mm("20.0212"))

    unmet = solve(blocks, (target,)).unmet

    assert {each.rounded_to for each in unmet} == {mm("0.001")}
    assert solve(blocks, (replace(target, rounded_to=mm("0.001")),)).outcome == "optimal"


@pytest.mark.parametrize(("asked", "count"), [("one", 1), ("both", 2)])
def test_missing_wear_blocks_are_named_as_such(asked: str, count: int) -> None:
    """Where only the wear blocks are missing only wear blocks are to be added."""
    targets = [
        LengthTarget(ref="t", length=mm("10"), wear_blocks="one" if asked == "one" else "both")
    ]

    answer = solve(make_blocks("1 2 3 4 5 6 7 8 9"), targets)

    assert answer.shortage is not None
    assert [block.role for block in answer.shortage.blocks_to_add] == ["wear"] * count


def test_one_block_more_helps_two_shifts() -> None:
    """Stacks that are not needed at one time can share the block that is added for them."""
    targets = (
        LengthTarget(ref="always", length=mm("2.001")),
        LengthTarget(ref="early", length=mm("3.001"), needed_until=SHIFT),
        LengthTarget(ref="late", length=mm("3.001"), needed_from=SHIFT + timedelta(hours=1)),
    )

    answer = solve(make_blocks("1.001 1 2 2"), targets)

    assert [stack.target for stack in answer.stacks] == ["early", "late"]
    assert answer.shortage is not None
    assert tuple(map(str, answer.shortage.conflict)) in {("always", "early"), ("always", "late")}
    assert answer.shortage.blocks_to_add == (Wanted(nominal=mm("1.001")),)


def test_a_stack_that_no_block_can_help_gets_none() -> None:
    """Two wear blocks are more than one block, so nothing to add is named."""
    targets = [LengthTarget(ref="t", length=mm("9"), max_blocks=1, wear_blocks="both")]

    shortage = solve(make_blocks("1 2 3"), targets).shortage

    # Of one block it could be; without the wear blocks of three as well.
    assert shortage == Shortage(
        cause="blocks_missing",
        conflict=(StackName(target="t"),),
        smallest_conflict_proven=True,
        blocks_to_add=(),
        not_helped=(StackName(target="t"),),
    )
