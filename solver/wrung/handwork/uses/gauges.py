"""Gauges that are set on stacks on the plate, and the ladder for a comparator."""

from wrung.handwork.uses.use import Uses
from wrung.measures import Measure
from wrung.targets import DepthSettingResult, LadderResult
from wrung.texts import figure, phrase


def depth_setting(result: DepthSettingResult, *_: object) -> Uses:
    """Both stacks under the base, and what depth that is."""
    for stack in result.stacks[:1]:
        yield stack.role, phrase("use.depth_first")
    # With the second stack all is there that the base stands on.
    if result.setting is not None:
        yield (
            result.stacks[-1].role,
            phrase("use.depth_setting", figure("depth", result.setting, Measure.LENGTH)),
        )


def ladder(result: LadderResult, *_: object) -> Uses:
    """Zero on the lowest stack, then what the comparator should show on each."""
    for place, row in enumerate(row for row in result.rows if row.stack):
        if not place:
            yield row.role, phrase("use.ladder_zero")
        else:
            rise = figure("rise", row.rise or 0, Measure.DEVIATION)
            yield row.role, phrase("use.ladder_step", rise)
