"""Instructions for a whole answer."""

import re
from collections.abc import Sequence
from decimal import Decimal

import pytest
from msgspec.structs import replace

from solver.targets.samples import SAMPLES
from wrung import GaugeSet, LengthTarget, mm, solve, um
from wrung.angles import SECOND, angle
from wrung.answers import Answer
from wrung.blocks import Block
from wrung.handwork import for_answer
from wrung.handwork.instructions import Instructions
from wrung.metrology import STANDARD, Conditions, Part, exactly
from wrung.targets import (
    AngleBlocksTarget,
    BetweenJawsTarget,
    CheckPointsTarget,
    ComparisonTarget,
    RingBoreTarget,
    SineBar,
    SineTarget,
    Target,
    results,
)
from wrung.testing import make_blocks
from wrung.texts import word


def handwork(
    answer: Answer, targets: Sequence[Target], blocks: Sequence[Block]
) -> tuple[Instructions, ...]:
    return for_answer.handwork(answer, targets, results(targets, answer, blocks), blocks)


EQUIPMENT = {
    "sine": "100 mm",
    "compound": "100 mm",
    "jaws": "5 mm",
    "plug": "10 mm",
    "bore": "26 mm|18 mm",
    "rolls": "25 mm, 10 mm",
    "dovetail": "8 mm",
    "holes": "10 mm, 12 mm",
    "shaft": "90°.*12 mm",
    "arc": "10 mm",
    "ring": "20 mm",
    "thread": "0.866 mm",
    "pinion": "3.5 mm",
    "height": "150 mm",
    "shaft 2": "25 mm: 87.5 mm",
}
"""What samples say of the bar, rolls and so on that their stacks are for: a shop has several."""


@pytest.mark.parametrize("target", [t for t in SAMPLES if t.ref in EQUIPMENT], ids=lambda t: t.ref)
def test_each_stack_says_which_bar_rolls_or_pins_it_is_for(target: Target) -> None:
    blocks = GaugeSet(id="m", composition="metric-112", grade="1").blocks()

    written = handwork(solve(blocks, [target]), [target], blocks)

    for each in written:
        said = " ".join(word(step.said) for step in each.steps if step.phase == "use")
        assert re.search(rf"\b({EQUIPMENT[target.ref]})\b", said), said


def test_a_certified_bar_is_told_from_another_of_its_size() -> None:
    blocks = make_blocks("50")
    bar = SineBar(centre_distance=mm("100"), deviation=um("1.5"))
    target = SineTarget(ref="w", bar=bar, angle=angle("30"), max_angle_error=SECOND * 10)

    (found,) = handwork(solve(blocks, [target]), [target], blocks)

    assert any("(centre distance 100.0015 mm)" in word(step.said) for step in found.steps)


def test_jaws_that_are_left_out_have_no_sizes() -> None:
    blocks = make_blocks("50")
    target = BetweenJawsTarget(ref="flat jaws", size=mm("50"))

    (found,) = handwork(solve(blocks, [target]), [target], blocks)

    assert any("Fit the accessories to the ends" in word(step.said) for step in found.steps)


def test_points_of_a_sequence_follow_from_each_other_and_other_stacks_do_not() -> None:
    blocks = make_blocks("50 25 10 1 2 3")
    targets: list[Target] = [
        CheckPointsTarget(ref="m", points=(mm("26"), mm("27"))),
        LengthTarget(ref="x", length=mm("60")),
    ]
    answer = solve(blocks, targets)

    first, second, other = handwork(answer, targets, blocks)

    assert [str(each.name) for each in (first, second, other)] == [
        "m (point_1)",
        "m (point_2)",
        "x",
    ]
    assert first.steps[0].said.key == "step.take_series"
    assert second.steps[0].said.key == "step.take_off"
    assert other.steps[0].said.key == "step.take"


def test_blocks_are_put_away_after_the_last_stack_of_a_sequence() -> None:
    blocks = make_blocks("50 25 10 1 2 3")
    targets: list[Target] = [
        CheckPointsTarget(ref="m", points=(mm("26"), mm("27"))),
        LengthTarget(ref="x", length=mm("60")),
    ]

    first, second, other = handwork(solve(blocks, targets), targets, blocks)

    assert [each.steps[-1].said.key for each in (first, second, other)] == [
        "step.next",
        "step.put_away",
        "step.put_away",
    ]


def test_blocks_of_a_series_are_fetched_and_soak_once() -> None:
    """Their total waiting is what one stack takes, not once more for each point."""
    blocks = make_blocks("50 25 10 1 2 3")
    points = (mm("26"), mm("27"), mm("28"), mm("51"))
    targets: list[Target] = [CheckPointsTarget(ref="m", points=points)]

    first, *others = handwork(solve(blocks, targets), targets, blocks)

    phases = [each.phase for each in first.steps]
    assert (phases.count("normalise"), phases.count("soak")) == (1, 1)
    assert first.waiting_minutes == 120 + 20  # the 50 mm block, and once more after wringing
    for other in others:
        assert not {"normalise", "soak", "inspect"} & {each.phase for each in other.steps}
        assert other.waiting_minutes == 0
    fetched = set(first.steps[0].blocks)
    assert all(set(step.blocks) <= fetched for each in others for step in each.steps)


def test_a_series_has_its_cautions_once() -> None:
    blocks = make_blocks("50 25 10 1 2 3")
    targets: list[Target] = [CheckPointsTarget(ref="m", points=(mm("26"), mm("27")))]

    first, second = handwork(solve(blocks, targets), targets, blocks)

    assert first.cautions
    assert second.cautions == ()


def test_angle_blocks_have_instructions_after_the_stacks() -> None:
    """26 degrees from a set of 1, 3, 9, 27 and 41: 27 less 1, the mark of the 1 turned round."""
    blocks = make_blocks("10")
    targets: list[Target] = [
        AngleBlocksTarget(ref="a", angle=angle("26"), composition="angle-13"),
        LengthTarget(ref="x", length=mm("10")),
    ]

    length, found = handwork(solve(blocks, targets), targets, blocks)

    said = {each.said.key: word(each.said) for each in found.steps}
    assert (length.target, found.target) == ("x", "a")
    assert "1°00'00.0\" onto 27°00'00.0\"" in said["step.wring_subtracting"]
    assert "26°00', give or take 5'" in said["step.protractor"]
    assert "26°00'00.0\"" in said["use.angle"]
    assert "step.wring_adding" not in said
    assert {each.key for each in found.cautions} == {
        "caution.solvent",
        "caution.calibration",
    }


def test_a_single_angle_block_is_not_wrung() -> None:
    targets: list[Target] = [AngleBlocksTarget(ref="a", angle=angle("27"), composition="angle-13")]

    (found,) = handwork(solve((), targets), targets, ())

    keys = [each.said.key for each in found.steps]
    assert "step.single" in keys
    assert not {"step.base", "step.apart"} & set(keys)


def test_an_angle_that_no_blocks_give_has_no_instructions() -> None:
    targets: list[Target] = [
        AngleBlocksTarget(ref="a", angle=angle("0°0'1\""), composition="angle-13")
    ]

    assert handwork(solve((), targets), targets, ()) == ()


def test_each_stack_has_the_cautions_of_its_own_target() -> None:
    blocks = make_blocks("25 10 1 2")
    targets: list[Target] = [
        CheckPointsTarget(ref="m", points=(mm("26"),)),
        LengthTarget(ref="x", length=mm("12")),
    ]

    micrometer, length = handwork(solve(blocks, targets), targets, blocks)

    assert micrometer.cautions[0].key == "caution.no_spindle_force"
    assert length.cautions[0].key == "caution.spindle"


def test_an_unmet_target_has_no_instructions() -> None:
    targets: list[Target] = [LengthTarget(ref="x", length=mm("7"))]
    blocks = make_blocks("2")

    assert handwork(solve(blocks, targets), targets, blocks) == ()


def test_a_ring_is_said_to_rock_as_far_as_in_the_bore_that_is_said_with_it() -> None:
    """The measured 4 mm tell another bore than the wanted one, in which it rocks 6.16 mm."""
    blocks = make_blocks("50 19 0.95")
    ring = RingBoreTarget(
        ref="r", ends="balls", bore=mm("120"), first_end=mm("25"), shorter_by=mm("0.05"),
        measured_rock=mm("4"),
    )  # fmt: skip

    (told,) = handwork(solve(blocks, [ring]), [ring], blocks)
    (use,) = [each.said for each in told.steps if each.said.key == "use.bore_rocked_balls"]
    said = {each.name: each.value for each in use.figures}
    rock, size = said["rock"], said["size"]

    assert isinstance(rock, int)
    # D = Lc / cos t + 2 e with sin t = w / 2 Lc, Lc = 94.95 mm (plain geometry).
    centres = float(mm("94.95"))
    found = centres / (1 - (rock / 2 / centres) ** 2) ** 0.5 + mm("25")
    assert found == pytest.approx(size, abs=2)


@pytest.mark.parametrize("from_conditions", [False, True])
def test_blocks_lie_away_from_work_of_another_temperature(*, from_conditions: bool) -> None:
    """The readings are worked out for the difference, which must not even out."""
    blocks = make_blocks("50 10")
    target = ComparisonTarget(
        ref="c", nominal=mm("60"), lower_deviation=um("-10"), upper_deviation=um("10"),
        part_material="aluminium",
    )  # fmt: skip
    warm, conditions = replace(target, part_temperature=Decimal(23)), STANDARD
    if from_conditions:
        part = Part(material="aluminium", temperature_difference=exactly(3.0))
        warm, conditions = target, Conditions(part=part)
    answer = solve(blocks, [warm])
    found = results([warm], answer, blocks, conditions=conditions)

    (told,) = for_answer.handwork(answer, [warm], found, blocks, conditions=conditions)

    said = {each.said.key: word(each.said, "en", "in") for each in told.steps}
    assert not {"step.normalise", "step.soak"} & set(said)
    for key in ("step.normalise_apart", "step.soak_apart"):
        assert "away from the work" in said[key]
        assert "68 °F" in said[key]
    assert "68 °F of the stack and 73.4 °F of the work" in said["step.measure_both"]


def test_blocks_as_warm_as_the_work_lie_beside_it() -> None:
    blocks = make_blocks("50 10")
    target = ComparisonTarget(
        ref="c", nominal=mm("60"), lower_deviation=um("-10"), upper_deviation=um("10"),
        part_temperature=Decimal("23.3"), block_temperature=Decimal("23.3"),
    )  # fmt: skip

    (told,) = handwork(solve(blocks, [target]), [target], blocks)

    keys = {each.said.key for each in told.steps}
    assert {"step.normalise", "step.soak"} <= keys
    assert "step.measure_both" not in keys
