"""What every kind of target uses its stacks for, in words with the figures of the answer."""

from collections.abc import Callable, Mapping, Sequence

from wrung.answers import Stack
from wrung.checked_types import typed
from wrung.handwork.uses.angles import compound, sine, two_rolls
from wrung.handwork.uses.check_points import check_points
from wrung.handwork.uses.gauges import depth_setting, ladder
from wrung.handwork.uses.limits import limit_pair
from wrung.handwork.uses.rolls import dovetail, external_taper, internal_taper
from wrung.handwork.uses.settings import between_jaws, comparison, length
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
from wrung.handwork.uses.use import Uses, with_force
from wrung.lengths import Unit
from wrung.targets import (
    BenchCentresResult,
    BetweenJawsResult,
    CentreDistanceResult,
    CheckPointsResult,
    ComparisonResult,
    CompoundSineResult,
    DepthSettingResult,
    DovetailResult,
    ExternalTaperResult,
    ExternalTaperTarget,
    GearPinsResult,
    HeightSettingResult,
    InternalTaperResult,
    LadderResult,
    LengthTarget,
    RadiusGaugeResult,
    RingBoreResult,
    SineResult,
    Target,
    TargetResult,
    ThreadWiresResult,
    TwoRollsResult,
    TwoRollsTarget,
    VBlockResult,
)
from wrung.targets.built import as_built
from wrung.targets.limit_results import LimitPairResult
from wrung.targets.roll_contact import PressedRolls
from wrung.targets.size import ComparedTarget


@typed
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
    if isinstance(target, LengthTarget):
        yield from (length(as_built(stack)) for stack in stacks if stack.target == target.ref)
    for kind, use in _of_kinds().items():
        if isinstance(result, kind):
            pressed = _pressed(target)
            yield from (
                (role, with_force(said, pressed)) for role, said in use(result, target, unit)
            )


def _pressed(target: Target) -> PressedRolls | None:
    kinds = (ComparedTarget, TwoRollsTarget, ExternalTaperTarget)
    return target.pressed() if isinstance(target, kinds) else None


def _of_kinds() -> Mapping[type[TargetResult], Callable[..., Uses]]:
    """By kind what its stacks are used for, from its result, target, and the unit at the bench."""
    return {
        LimitPairResult: limit_pair,
        SineResult: sine,
        CompoundSineResult: compound,
        CheckPointsResult: check_points,
        ComparisonResult: comparison,
        BetweenJawsResult: between_jaws,
        ExternalTaperResult: external_taper,
        InternalTaperResult: internal_taper,
        TwoRollsResult: two_rolls,
        DovetailResult: dovetail,
        CentreDistanceResult: centre_distance,
        VBlockResult: v_block,
        RadiusGaugeResult: radius_gauge,
        RingBoreResult: ring_bore,
        ThreadWiresResult: thread_wires,
        HeightSettingResult: height_setting,
        BenchCentresResult: bench_centres,
        DepthSettingResult: depth_setting,
        GearPinsResult: gear_pins,
        LadderResult: ladder,
    }
