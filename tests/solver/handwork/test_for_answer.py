"""Instructions for a whole answer."""

from wrung import LengthTarget, mm, solve
from wrung.handwork.for_answer import handwork
from wrung.targets import CheckPointsTarget, Target
from wrung.testing import make_blocks


def test_points_of_a_sequence_follow_from_each_other_and_other_stacks_do_not() -> None:
    blocks = make_blocks("50 25 10 1 2 3")
    targets: list[Target] = [
        CheckPointsTarget(ref="m", points=(mm("26"), mm("27"))),
        LengthTarget(ref="x", length=mm("60")),
    ]
    answer = solve(blocks, targets)

    first, second, other = handwork(answer, targets, blocks)

    assert [each.ref for each in (first, second, other)] == ["m/1", "m/2", "x"]
    assert first.steps[0].said.key == "step.take"
    assert second.steps[0].said.key == "step.take_off"
    assert other.steps[0].said.key == "step.take"


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
