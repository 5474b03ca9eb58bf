"""Depth micrometers on two stacks, and ladders for comparators."""

from statistics import linear_regression

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung import GaugeSet, solve, verify
from wrung.answers import PlacedBlock, Stack
from wrung.handwork.uses import uses
from wrung.lengths import mm, um
from wrung.targets import DepthSettingTarget, LadderTarget
from wrung.testing import make_blocks

DEPTH = DepthSettingTarget(ref="d", depth=mm("37.5"))
LADDER = LadderTarget(ref="l", lowest=mm("10"), step=mm("0.01"), highest=mm("10.03"))


def test_both_stacks_are_built_at_one_time_from_different_blocks() -> None:
    short, full = make_blocks("30 7.5 20"), make_blocks("30 7.5 20 17.5")

    assert len(solve(short, [DEPTH]).stacks) == 1
    assert len(solve(full, [DEPTH]).stacks) == 2


def test_the_depth_is_the_mean_of_both(make_stack: MakeStack) -> None:
    found = DEPTH.results(
        [
            make_stack("d/left", mm("37.5"), deviation=um("1"), margin=um("0.4")),
            make_stack("d/right", mm("37.5"), deviation=um("-0.4"), margin=um("0.6")),
        ]
    )

    assert (found.error, found.difference, found.margin) == (um("0.3"), um("1.4"), um("0.5"))


def test_one_stack_is_no_setting(make_stack: MakeStack) -> None:
    found = DEPTH.results([make_stack("d/left", mm("37.5"))])

    assert (len(found.stacks), found.setting, found.expanded_uncertainty) == (1, None, None)


def test_a_ladder_changes_as_few_blocks_as_can_be() -> None:
    """From one set of 112 the base of 9 mm stays; only the hundredths are changed."""
    blocks = GaugeSet(id="s", composition="metric-112-1", grade="1").blocks()
    target = replace(LADDER, lowest=mm("10.01"))

    answer = solve(blocks, [target])

    assert answer.outcome == "optimal"
    assert verify(blocks, [target], answer) == ()
    kept = set.intersection(*({b.id for b in stack.blocks} for stack in answer.stacks))
    assert len(kept) == 1


def step(k: int, length: int) -> Stack:
    """A stack of the ladder that is known to be that long."""
    wanted = mm("10") + k * mm("0.01")
    return Stack(
        target="l",
        role=f"step_{k}",
        length=wanted,
        nominal=wanted,
        joints=0,
        blocks=(PlacedBlock(id="b", nominal=wanted),),
        deviation=length - wanted,
        worst_case_error=abs(length - wanted),
    )


@given(
    st.lists(
        st.tuples(st.integers(-um("2"), um("2")), st.integers(-um("3"), um("3"))),
        min_size=2,
        max_size=9,
    )
)
def test_the_scale_is_that_of_least_squares(pairs: list[tuple[int, int]]) -> None:
    """Against the standard library's linear regression."""
    lengths = [mm("10") + k * mm("0.01") + off for k, (off, _) in enumerate(pairs)]
    readings = tuple(k * um("10") + off for k, (_, off) in enumerate(pairs))
    highest = mm("10") + (len(pairs) - 1) * mm("0.01")
    target = replace(LADDER, highest=highest, readings=readings)
    rises = [length - lengths[0] for length in lengths]
    assume(len(set(rises)) > 1)

    found = target.results([step(k, each) for k, each in enumerate(lengths)])

    slope = linear_regression(rises, readings).slope
    assert float(found.scale_factor or 0) == pytest.approx(slope, abs=1e-5)
    errors = [r - readings[0] - rise for r, rise in zip(readings, rises, strict=True)]
    assert [row.error for row in found.rows] == errors
    assert found.error_span == max(errors) - min(errors)


def test_a_missing_lowest_stack_leaves_the_next_one_as_zero(make_stack: MakeStack) -> None:
    target = replace(LADDER, highest=mm("10.02"), readings=(0, um("10"), um("20.5")))

    found = target.results(
        [make_stack("l/step_1", mm("10.01")), make_stack("l/step_2", mm("10.02"))]
    )

    assert [row.rise for row in found.rows] == [None, 0, um("10")]
    assert [row.rise_uncertainty for row in found.rows] == [None, 0, 0]
    assert [row.error for row in found.rows] == [None, 0, um("0.5")]
    assert (found.scale_factor, found.error_span) == (None, None)


@pytest.mark.parametrize(
    ("target", "at"),
    [
        (replace(DEPTH, depth=0), "/depth"),
        (replace(LADDER, lowest=0), "/lowest"),
        (replace(LADDER, step=0), "/step"),
        (replace(LADDER, highest=mm("10.51")), "/highest"),
        (replace(LADDER, highest=mm("10.015")), "/highest"),
        (replace(LADDER, readings=(0,)), "/readings"),
    ],
)
def test_faults(target: DepthSettingTarget | LadderTarget, at: str) -> None:
    assert pointers(target) == {at}


def test_only_the_first_stack_of_a_ladder_is_set_on(make_stack: MakeStack) -> None:
    """Also where nothing is uncertain."""
    stacks = [make_stack(f"l/step_{k}", LADDER.lowest + k * LADDER.step) for k in range(4)]
    said = [each.key for _, each in uses(LADDER, LADDER.results(stacks), stacks)]

    assert said == ["use.ladder_zero", *["use.ladder_step"] * 3]
