"""Step blocks: one body, several lengths, of which one is used at a time, on top of one stack."""

from datetime import timedelta

import pytest
from msgspec.structs import replace

from solver.targets.samples import SAMPLES
from wrung import Block, InputError, LengthTarget, alternatives, coverage_of, mm, solve, verify
from wrung.angles import angle
from wrung.coverage import LengthGrid
from wrung.handwork.order import standing
from wrung.lengths import to_text
from wrung.metrology import check_stack
from wrung.targets import (
    BenchCentresTarget,
    CheckPointsTarget,
    ComparisonTarget,
    HeightSettingTarget,
    LadderTarget,
    SineBar,
    SineTarget,
    VBlockTarget,
)
from wrung.targets.base import StackTarget
from wrung.testing import SHIFT, make_blocks, make_targets


def step_block(body: str, lengths: str) -> tuple[Block, ...]:
    """Its steps; none has a certificate."""
    return tuple(
        Block(id=f"{body}/{text}", nominal=mm(text), limit_deviation=mm("0.0002"), body=body)
        for text in lengths.split()
    )


STEPS = step_block("s", "1 2 3 4 5")


def used(stack: object) -> list[str]:
    """The ids of its blocks, in wringing order."""
    return [block.id for block in getattr(stack, "blocks", ())]


def test_two_stacks_at_one_time_share_no_step_block() -> None:
    """2 mm and 4 mm are there, but on one body."""
    answer = solve(STEPS, make_targets("2 4"))

    assert (answer.outcome, answer.proven, len(answer.stacks)) == ("partial", True, 1)
    (unmet,) = answer.unmet
    assert unmet.reason == "blocks_in_use"
    assert answer.shortage is not None
    assert len(answer.shortage.conflict) == 2
    assert answer.shortage.blocks_to_add
    assert not verify(STEPS, make_targets("2 4"), answer)


def test_a_step_that_is_left_out_is_no_remedy_while_another_is_in_use() -> None:
    """Of 2 mm and 4 mm, one takes the step block: 2 mm as a step or below a step of 1 mm."""
    blocks, targets = (*STEPS, *make_blocks("1")), make_targets("2 4")

    answer = solve(blocks, targets, exclude=["s/2"])

    assert [(each.target, each.reason, each.remedies) for each in answer.unmet] == [
        ("t0", "blocks_in_use", ())
    ]
    assert not verify(blocks, targets, answer, exclude=["s/2"])


def test_one_after_the_other_both_are_served() -> None:
    early, late = make_targets("2 4")
    noon = SHIFT + timedelta(hours=6)
    targets = (replace(early, needed_until=noon), replace(late, needed_from=noon))

    answer = solve(STEPS, targets)

    assert [used(stack) for stack in answer.stacks] == [["s/2"], ["s/4"]]


def test_two_step_blocks_serve_two_stacks() -> None:
    answer = solve((*STEPS, *step_block("t", "1 2 3 4 5")), make_targets("2 4"))

    assert answer.outcome == "optimal"
    assert len({name[0] for stack in answer.stacks for name in used(stack)}) == 2


def test_a_stack_has_one_step_at_most() -> None:
    """Neither 2 + 5 of one body, nor of two: nothing stands on a step."""
    for blocks in (STEPS, (*STEPS, *step_block("t", "2 5"))):
        answer = solve(blocks, make_targets("7"))

        assert (answer.outcome, answer.unmet[0].reason) == ("infeasible", "cannot_be_built")
        below = answer.unmet[0].nearest_below
        assert below is not None
        assert below.length == mm("5")


def test_a_step_block_goes_on_top_and_a_wear_block_onto_the_base() -> None:
    blocks = (*STEPS, *make_blocks("1.01"), *make_blocks("2", role="wear"))
    (target,) = make_targets("8.01")

    (stack,) = solve(blocks, [replace(target, wear_blocks="one")]).stacks

    assert used(stack) == ["b0", "s/5", "w0"]
    assert [block.id for block in standing(stack.blocks)] == ["w0", "b0", "s/5"]


def test_with_wear_blocks_on_both_ends_there_is_none_for_a_step() -> None:
    blocks = (*STEPS, *make_blocks("2 2", role="wear"))
    (target,) = make_targets("9")

    answer = solve(blocks, [replace(target, wear_blocks="both")])

    assert answer.outcome == "infeasible"
    # One step and one wear block would do; so would 4 mm of wear blocks and a block of 5 mm.
    assert not verify(blocks, [replace(target, wear_blocks="both")], answer)


def test_only_what_a_narrow_contact_touches_has_a_step() -> None:
    """A roll, a slot or a wide base would touch higher steps: common practice, no source."""
    takes = {
        type(sample): {each.takes_step for each in sample.requirements()}
        for sample in SAMPLES
        if isinstance(sample, StackTarget)
    }

    assert {kind for kind, said in takes.items() if said == {True}} == {
        *(LengthTarget, CheckPointsTarget, ComparisonTarget, HeightSettingTarget),
        *(LadderTarget, BenchCentresTarget, VBlockTarget),
    }
    assert all(len(said) == 1 for said in takes.values())


def test_no_roll_lies_on_a_step() -> None:
    """25 mm is there only with a step, and the roll of a sine bar is too long for one."""
    bar = SineBar(centre_distance=mm("100"), expanded_uncertainty=0)
    sine = SineTarget(ref="s", bar=bar, max_angle_error=100, angle=angle("30°"))
    blocks = (*STEPS, *make_blocks("45"))

    assert solve(blocks, [sine]).outcome == "infeasible"
    assert solve(blocks, make_targets("50")).outcome == "optimal"


def test_a_depth_gauge_lies_across_its_stacks() -> None:
    points = CheckPointsTarget(ref="m", points=(mm("3"), mm("4")), instrument="depth_gauge")

    assert solve(STEPS, [points]).outcome == "infeasible"
    assert solve(STEPS, [replace(points, instrument="dial_indicator")]).outcome == "optimal"


def test_a_step_block_that_stays_in_place_is_no_change() -> None:
    """Five check points from one set-up: the stack under the step block is never taken apart."""
    blocks = (*STEPS, *make_blocks("10 20"))
    points = CheckPointsTarget(ref="m", points=tuple(map(mm, ("11", "12", "13", "14", "15"))))

    answer = solve(blocks, [points])

    assert [used(stack)[0] for stack in answer.stacks] == ["b0"] * 5
    assert answer.changes is not None
    assert (answer.changes.block_changes, answer.changes.lower_bound) == (0, 0)
    assert not verify(blocks, [points], answer)


def test_alternatives_use_other_steps() -> None:
    blocks = (*STEPS, *make_blocks("1 2 3 4 5"))
    targets = make_targets("6")
    answer = solve(blocks, targets)

    found = alternatives(blocks, targets, answer, count=20)

    assert found.complete
    stacks = [used(each.stack) for each in found.stacks] + [used(answer.stacks[0])]
    # Of two blocks: 1 + 5, 2 + 4 and either of them, or 3 + 3, from the step block.
    assert sum(len(names) == 2 and names[1].startswith("s/") for names in stacks) == 5
    assert all(sum(name.startswith("s/") for name in names) <= 1 for names in stacks)


def test_what_a_survey_finds_has_one_step_at_most() -> None:
    blocks = (*STEPS, *make_blocks("10"))
    found = coverage_of(blocks, LengthGrid(start=mm("1"), step=mm("1"), stop=mm("20")))

    assert found.reach is not None
    built = [n for n, count in zip(range(1, 21), found.reach.fewest, strict=True) if count]
    assert built == [1, 2, 3, 4, 5, 10, 11, 12, 13, 14, 15]
    assert found.losses is not None
    lost = {each.block: each.lengths_lost for each in found.losses}
    # A step is only lost with its whole body.
    assert lost == {"b0": 6, **{f"s/{n}": 10 for n in range(1, 6)}}


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [({"nominal": mm("2")}, "/blocks/2/nominal"), ({"role": "wear"}, "/blocks/2/body")],
)
def test_what_is_no_step_block_is_refused(changed: dict[str, object], pointer: str) -> None:
    """Two steps of one length, and a wear block."""
    blocks = (*STEPS[:2], replace(STEPS[2], **changed))

    with pytest.raises(InputError) as refused:
        solve(blocks, make_targets("2"))

    assert [fault.pointer for fault in refused.value.faults] == [pointer]


def test_the_checker_sees_a_step_block_used_twice() -> None:
    blocks = (*STEPS, *make_blocks("2 4"))
    targets = make_targets("2 4")
    answer = solve(blocks, targets)
    stolen = tuple(
        replace(
            stack,
            blocks=tuple(
                replace(placed, id=f"s/{to_text(placed.nominal, 'mm')}", body="s")
                for placed in stack.blocks
            ),
        )
        for stack in answer.stacks
    )

    breaches = verify(blocks, targets, replace(answer, stacks=stolen))

    assert {breach.rule for breach in breaches} >= {"used once"}


@pytest.mark.parametrize("order", [(1, 0), (0, 1)])
def test_the_checker_sees_what_stands_on_a_step(order: tuple[int, int]) -> None:
    blocks = (*STEPS, *make_blocks("10"))
    (target,) = make_targets("12")
    answer = solve(blocks, [target])
    (stack,) = answer.stacks
    placed = tuple(stack.blocks[place] for place in order)

    breaches = verify(blocks, [target], replace(answer, stacks=(replace(stack, blocks=placed),)))

    assert ("steps" in {breach.rule for breach in breaches}) == (order == (1, 0))


def test_the_checker_sees_two_steps_in_one_stack() -> None:
    blocks = (*STEPS, *step_block("t", "5"))
    target = LengthTarget(ref="t", length=mm("7"))
    answer = solve((*STEPS, *make_blocks("5")), [target])
    (stack,) = answer.stacks
    forged = tuple(
        replace(placed, id="t/5", body="t") if placed.id == "b0" else placed
        for placed in stack.blocks
    )

    breaches = verify(blocks, [target], replace(answer, stacks=(replace(stack, blocks=forged),)))

    assert "steps" in {breach.rule for breach in breaches}


@pytest.mark.parametrize(
    ("stack", "misplaced"),
    [
        ("b1 b0 s/2", ()),
        ("b1 s/2 b0", ("s/2",)),
        ("b1 b0 s/2 w0", ()),
        ("b1 s/2 t/5", ("s/2", "t/5")),
        # With wear blocks on both ends, or one that is named first, something stands on the step.
        ("b1 s/2 w0 w1", ("s/2",)),
        ("w0 s/2 b1", ("s/2",)),
        ("w0 b1 s/2", ()),
        ("s/2 w0", ()),
    ],
)
def test_a_stack_built_by_hand_has_its_step_block_at_an_end(
    stack: str, misplaced: tuple[str, ...]
) -> None:
    shelf = (*STEPS, *step_block("t", "5"), *make_blocks("10 20"), *make_blocks("2 2", role="wear"))

    found = check_stack(shelf, stack.split(), mm("32"))

    assert found.misplaced_steps == misplaced
    assert not (misplaced and found.passed)
