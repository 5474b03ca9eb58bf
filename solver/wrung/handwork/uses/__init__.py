"""What every kind of target uses its stacks for, in words with the figures of the answer."""

from collections.abc import Sequence

from wrung.answers import Stack
from wrung.arguments import with_tuples
from wrung.handwork.uses.angles import compound, sine, two_rolls
from wrung.handwork.uses.check_points import check_points
from wrung.handwork.uses.gauges import depth_setting, ladder
from wrung.handwork.uses.limits import limit_pair
from wrung.handwork.uses.rolls import dovetail, external_taper, internal_taper
from wrung.handwork.uses.settings import between_jaws, comparison, plain
from wrung.handwork.uses.sizes import (
    bench_centres,
    centre_distance,
    gear_pins,
    height_setting,
    radius_gauge,
    ring_bore,
    thread_wires,
    v_block,
)
from wrung.handwork.uses.use import Uses
from wrung.lengths import Unit
from wrung.targets import (
    AngleBlocksTarget,
    BenchCentresResult,
    BenchCentresTarget,
    BetweenJawsResult,
    BetweenJawsTarget,
    CentreDistanceResult,
    CentreDistanceTarget,
    CheckPointsResult,
    CheckPointsTarget,
    ComparisonResult,
    ComparisonTarget,
    CompoundSineResult,
    CompoundSineTarget,
    DepthSettingResult,
    DepthSettingTarget,
    DovetailResult,
    DovetailTarget,
    ExternalTaperResult,
    ExternalTaperTarget,
    GearPinsResult,
    GearPinsTarget,
    HeightSettingResult,
    HeightSettingTarget,
    InternalTaperResult,
    InternalTaperTarget,
    LadderResult,
    LadderTarget,
    LengthTarget,
    RadiusGaugeResult,
    RadiusGaugeTarget,
    RingBoreResult,
    RingBoreTarget,
    SineResult,
    SineTarget,
    Target,
    TargetResult,
    ThreadWiresResult,
    ThreadWiresTarget,
    TwoRollsResult,
    TwoRollsTarget,
    VBlockResult,
    VBlockTarget,
)
from wrung.targets.built import as_built
from wrung.targets.limit_pair import LimitPairTarget
from wrung.targets.limit_results import LimitPairResult


@with_tuples
def uses(
    target: Target, result: TargetResult | None, stacks: Sequence[Stack], *, unit: Unit = "mm"
) -> Uses:
    """What to do with the stacks of a target.

    Args:
        target: what is set, checked or built.
        result: what its stacks come to; a plain length needs none.
        stacks: those of the answer, of this and of other targets.
        unit: of the instruments at the bench.
    """
    match target, result:
        case LengthTarget(), _:
            yield from (plain(as_built(stack)) for stack in stacks if stack.target == target.ref)
        case LimitPairTarget(), LimitPairResult():
            yield from limit_pair(target, result)
        case SineTarget(), SineResult():
            yield from sine(result)
        case CompoundSineTarget(), CompoundSineResult():
            yield from compound(result)
        case CheckPointsTarget(), CheckPointsResult():
            yield from check_points(target, result, unit)
        case ComparisonTarget(), ComparisonResult():
            yield from comparison(result)
        case BetweenJawsTarget(), BetweenJawsResult():
            yield from between_jaws(result)
        case _:
            yield from _by_rolls(target, result)


def _by_rolls(target: Target, result: TargetResult | None) -> Uses:
    match target, result:
        case ExternalTaperTarget(), ExternalTaperResult():
            yield from external_taper(result)
        case InternalTaperTarget(), InternalTaperResult():
            yield from internal_taper(target, result)
        case TwoRollsTarget(), TwoRollsResult():
            yield from two_rolls(target, result)
        case DovetailTarget(), DovetailResult():
            yield from dovetail(target, result)
        case _:
            yield from _by_comparing(target, result)


def _by_comparing(target: Target, result: TargetResult | None) -> Uses:
    match target, result:
        case CentreDistanceTarget(), CentreDistanceResult():
            yield from centre_distance(target, result)
        case VBlockTarget(), VBlockResult():
            yield from v_block(result)
        case RadiusGaugeTarget(), RadiusGaugeResult():
            yield from radius_gauge(target, result)
        case RingBoreTarget(), RingBoreResult():
            yield from ring_bore(target, result)
        case ThreadWiresTarget(), ThreadWiresResult():
            yield from thread_wires(result)
        case _:
            yield from _by_setting(target, result)


def _by_setting(target: Target, result: TargetResult | None) -> Uses:
    match target, result:
        case HeightSettingTarget(), HeightSettingResult():
            yield from height_setting(target, result)
        case BenchCentresTarget(), BenchCentresResult():
            yield from bench_centres(result)
        case DepthSettingTarget(), DepthSettingResult():
            yield from depth_setting(result)
        case GearPinsTarget(), GearPinsResult():
            yield from gear_pins(result)
        case LadderTarget(), LadderResult():
            yield from ladder(result)
        case _:
            return


STANDING: tuple[type[Target], ...] = (
    SineTarget,
    CompoundSineTarget,
    ComparisonTarget,
    ExternalTaperTarget,
    InternalTaperTarget,
    AngleBlocksTarget,
    VBlockTarget,
    HeightSettingTarget,
    DepthSettingTarget,
    BenchCentresTarget,
    LadderTarget,
)
"""Kinds whose stacks stand upright in use, so that no supports for lying ones are wanted."""
