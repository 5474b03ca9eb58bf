"""Tapers and dovetails, measured over rolls and balls."""

from wrung.handwork.uses.use import Uses, stated, worked_out
from wrung.measures import Measure
from wrung.targets import DovetailResult, ExternalTaperResult, ExternalTaperTarget
from wrung.targets.dovetail import DovetailTarget
from wrung.targets.internal_taper import InternalTaperResult, InternalTaperTarget
from wrung.texts import figure, phrase


def external_taper(result: ExternalTaperResult, target: ExternalTaperTarget, *_: object) -> Uses:
    """Both stacks are used together; what to expect over the rolls."""
    low = worked_out("low", result.expected_low)
    high = worked_out("high", result.expected_high)
    rolls = stated("rolls", target.roll_diameter)
    for stack in result.stacks:
        yield stack.role, phrase("use.taper_rolls", low, high, rolls)


def internal_taper(result: InternalTaperResult, target: InternalTaperTarget, *_: object) -> Uses:
    """Which ball the stack is for, and whether it stands above the face or lies below."""
    balls = {
        "large_ball": (target.large_ball, result.large_ball_depth),
        "small_ball": (target.small_ball, result.small_ball_depth),
    }
    for stack in result.stacks:
        ball, depth = balls[stack.role or ""]
        yield (
            stack.role,
            phrase(
                "use.ball_above" if depth < 0 else "use.ball_below",
                stated("ball", ball),
                figure("length", stack.length, Measure.LENGTH),
            ),
        )


def dovetail(result: DovetailResult, target: DovetailTarget, *_: object) -> Uses:
    """Over or between the rolls, and what width that stands for."""
    if result.stack is None or result.width is None:
        return
    length = figure("length", result.stack.length, Measure.LENGTH)
    sure = result.width_budget.expanded_uncertainty if result.width_budget else None
    width = worked_out("width", result.width, sure)
    key = "use.dovetail_male" if target.form == "male" else "use.dovetail_female"
    yield result.stack.role, phrase(key, length, width, stated("rolls", target.roll_diameter))
