"""What every kind of target uses its stacks for, in words with the figures of the answer."""

from collections.abc import Callable, Mapping, Sequence

from wrung import targets
from wrung.answers import Stack
from wrung.checked_types import typed
from wrung.handwork.uses import angles, check_points, gauges, limits, rolls, settings, sizes
from wrung.handwork.uses.use import Uses, with_force
from wrung.lengths import Unit
from wrung.targets.built import as_built
from wrung.targets.limit_results import LimitPairResult
from wrung.targets.roll_contact import PressedRolls
from wrung.targets.size import ComparedTarget


@typed
def uses(
    target: targets.Target,
    result: targets.TargetResult | None,
    stacks: Sequence[Stack],
    *,
    unit: Unit = "mm",
) -> Uses:
    """What to do with the stacks of a target.

    Args:
        target: what is set, checked or built.
        result: what its stacks come to; a plain length needs none.
        stacks: those of the answer, of this and of other targets.
        unit: of the instruments at the bench.
    """
    if isinstance(target, targets.LengthTarget):
        yield from (
            settings.length(as_built(stack)) for stack in stacks if stack.target == target.ref
        )
    for kind, use in _of_kinds().items():
        if isinstance(result, kind):
            pressed = _pressed(target)
            yield from (
                (role, with_force(said, pressed)) for role, said in use(result, target, unit)
            )


def _pressed(target: targets.Target) -> PressedRolls | None:
    kinds = (ComparedTarget, targets.TwoRollsTarget, targets.ExternalTaperTarget)
    return target.pressed() if isinstance(target, kinds) else None


def _of_kinds() -> Mapping[type[targets.TargetResult], Callable[..., Uses]]:
    """By kind what its stacks are used for, from its result, target, and the unit at the bench."""
    return {
        LimitPairResult: limits.limit_pair,
        targets.SineResult: angles.sine,
        targets.CompoundSineResult: angles.compound,
        targets.CheckPointsResult: check_points.check_points,
        targets.ComparisonResult: settings.comparison,
        targets.BetweenJawsResult: settings.between_jaws,
        targets.ExternalTaperResult: rolls.external_taper,
        targets.InternalTaperResult: rolls.internal_taper,
        targets.TwoRollsResult: angles.two_rolls,
        targets.DovetailResult: rolls.dovetail,
        targets.CentreDistanceResult: sizes.centre_distance,
        targets.VBlockResult: sizes.v_block,
        targets.RadiusGaugeResult: sizes.radius_gauge,
        targets.RingBoreResult: sizes.ring_bore,
        targets.ThreadWiresResult: sizes.thread_wires,
        targets.HeightSettingResult: sizes.height_setting,
        targets.BenchCentresResult: sizes.bench_centres,
        targets.DepthSettingResult: gauges.depth_setting,
        targets.GearPinsResult: sizes.gear_pins,
        targets.LadderResult: gauges.ladder,
    }
