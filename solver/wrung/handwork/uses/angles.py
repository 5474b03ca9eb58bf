"""Angles: by a sine bar, by a compound sine plate, by two rolls, by angle blocks."""

from wrung.handwork.uses.use import Uses, stated
from wrung.measures import Measure
from wrung.targets import (
    AngleBlocksResult,
    CompoundSineResult,
    CompoundSineTarget,
    SineResult,
    SineTarget,
)
from wrung.targets.sine_bar import SineSetting
from wrung.targets.two_rolls import TwoRollsResult, TwoRollsTarget
from wrung.texts import Figure, Phrase, figure, phrase


def sine(result: SineResult, target: SineTarget, *_: object) -> Uses:
    """Under which roll of which bar the stack goes, and what angle the bar then stands at."""
    reached, several = _reached(result.setting), len(result.stacks) > 1
    bar = stated("bar", target.bar.distance)
    for stack in result.stacks:
        length = figure("length", stack.length, Measure.LENGTH)
        if several and stack is result.stacks[0]:
            yield stack.role, phrase("use.sine_lower_roll", length, bar)
        elif reached:
            key = "use.sine_upper_roll" if several else "use.sine"
            yield stack.role, phrase(key, length, bar, *reached)


def compound(result: CompoundSineResult, target: CompoundSineTarget, *_: object) -> Uses:
    """Which hinge the stack sets, and to what angle."""
    for stack in result.stacks:
        on_top = stack.role == "top"
        reached = _reached(result.top if on_top else result.base)
        length = figure("length", stack.length, Measure.LENGTH)
        bar = stated("bar", (target.top if on_top else target.base).distance)
        key = "use.compound_top" if on_top else "use.compound_base"
        yield stack.role, phrase(key, length, bar, *reached)


def two_rolls(result: TwoRollsResult, target: TwoRollsTarget, *_: object) -> Uses:
    """Where the stack lies, and what angle the straight edges then have."""
    stack, angle, off = result.stack, result.angle_reached, result.uncertainty
    if stack is None or angle is None or off is None:
        return
    on_plate = target.arrangement == "on_plate"
    length = figure("length", stack.length, Measure.LENGTH)
    rolls = stated("rolls", target.large_roll, target.small_roll)
    key = "use.rolls_on_plate" if on_plate else "use.rolls_between_edges"
    yield stack.role, phrase(key, length, rolls, *_angle(angle, off))


def angle_blocks(result: AngleBlocksResult) -> Phrase | None:
    """What angle the blocks are; None if there are none."""
    angle, off = result.angle_reached, result.worst_case_error
    return None if angle is None or off is None else phrase("use.angle", *_angle(angle, off))


def _reached(setting: SineSetting) -> tuple[Figure, ...]:
    angle, off = setting.angle_reached, setting.uncertainty
    return () if angle is None or off is None else _angle(angle, off)


def _angle(angle: int, off: int) -> tuple[Figure, Figure]:
    reached = figure("angle", angle, Measure.ANGLE, uncertainty=off)
    return reached, figure("off", off, Measure.SECONDS)
