"""Kinds of target, one file each. A new kind adds its file and its name to `Target`.

`Timing` says whether targets are needed together or in turn, `WearBlocks` how many ends of a stack
carry one.
"""

from typing import TypeAlias

from wrung.targets.angle_blocks import AngleBlocksResult, AngleBlocksTarget
from wrung.targets.base import TargetResult
from wrung.targets.bench_centres import BenchCentresResult, BenchCentresTarget
from wrung.targets.between_jaws import Accessory, BetweenJawsResult, BetweenJawsTarget
from wrung.targets.centre_distance import CentreDistanceResult, CentreDistanceTarget
from wrung.targets.check_points import CheckPointsTarget
from wrung.targets.check_points_result import CheckPointsResult
from wrung.targets.comparison import ComparisonResult, ComparisonTarget
from wrung.targets.compound_sine import CompoundSineResult, CompoundSineTarget
from wrung.targets.depth_setting import DepthSettingResult, DepthSettingTarget
from wrung.targets.dovetail import DovetailResult, DovetailTarget
from wrung.targets.external_taper import ExternalTaperResult, ExternalTaperTarget
from wrung.targets.fit import FitResult, FitTarget
from wrung.targets.gear_pins import GearPinsResult, GearPinsTarget
from wrung.targets.general_tolerance import GeneralToleranceResult, GeneralToleranceTarget
from wrung.targets.height_setting import HeightSettingResult, HeightSettingTarget
from wrung.targets.inch_fit import InchFitResult, InchFitTarget
from wrung.targets.internal_taper import InternalTaperResult, InternalTaperTarget
from wrung.targets.ladder import LadderResult, LadderTarget
from wrung.targets.length import LengthResult, LengthTarget
from wrung.targets.limits import LimitsResult, LimitsTarget
from wrung.targets.placing import placed_requirements, results
from wrung.targets.radius_gauge import RadiusGaugeResult, RadiusGaugeTarget
from wrung.targets.requirement import Requirement, Tolerance, Turn, WearBlocks
from wrung.targets.ring_bore import RingBoreResult, RingBoreTarget
from wrung.targets.served import Served, served, served_at_most
from wrung.targets.sine import SineResult, SineTarget
from wrung.targets.sine_bar import SineBar
from wrung.targets.steps import usual_step
from wrung.targets.thread_wires import ThreadWiresResult, ThreadWiresTarget
from wrung.targets.turns import Timing, in_turn
from wrung.targets.two_rolls import TwoRollsResult, TwoRollsTarget
from wrung.targets.v_block import VBlockResult, VBlockTarget

Target: TypeAlias = (
    LengthTarget
    | LimitsTarget
    | FitTarget
    | GeneralToleranceTarget
    | SineTarget
    | CompoundSineTarget
    | CheckPointsTarget
    | ComparisonTarget
    | BetweenJawsTarget
    | ExternalTaperTarget
    | InternalTaperTarget
    | TwoRollsTarget
    | DovetailTarget
    | AngleBlocksTarget
    | CentreDistanceTarget
    | InchFitTarget
    | VBlockTarget
    | RadiusGaugeTarget
    | RingBoreTarget
    | ThreadWiresTarget
    | GearPinsTarget
    | HeightSettingTarget
    | DepthSettingTarget
    | BenchCentresTarget
    | LadderTarget
)
"""Any kind of target. One of your own needs a ``ref`` and ``requirements()``, as they have."""

__all__ = [
    "Accessory",
    "AngleBlocksResult",
    "AngleBlocksTarget",
    "BenchCentresResult",
    "BenchCentresTarget",
    "BetweenJawsResult",
    "BetweenJawsTarget",
    "CentreDistanceResult",
    "CentreDistanceTarget",
    "CheckPointsResult",
    "CheckPointsTarget",
    "ComparisonResult",
    "ComparisonTarget",
    "CompoundSineResult",
    "CompoundSineTarget",
    "DepthSettingResult",
    "DepthSettingTarget",
    "DovetailResult",
    "DovetailTarget",
    "ExternalTaperResult",
    "ExternalTaperTarget",
    "FitResult",
    "FitTarget",
    "GearPinsResult",
    "GearPinsTarget",
    "GeneralToleranceResult",
    "GeneralToleranceTarget",
    "HeightSettingResult",
    "HeightSettingTarget",
    "InchFitResult",
    "InchFitTarget",
    "InternalTaperResult",
    "InternalTaperTarget",
    "LadderResult",
    "LadderTarget",
    "LengthResult",
    "LengthTarget",
    "LimitsResult",
    "LimitsTarget",
    "RadiusGaugeResult",
    "RadiusGaugeTarget",
    "Requirement",
    "RingBoreResult",
    "RingBoreTarget",
    "Served",
    "SineBar",
    "SineResult",
    "SineTarget",
    "Target",
    "TargetResult",
    "ThreadWiresResult",
    "ThreadWiresTarget",
    "Timing",
    "Tolerance",
    "Turn",
    "TwoRollsResult",
    "TwoRollsTarget",
    "VBlockResult",
    "VBlockTarget",
    "WearBlocks",
    "in_turn",
    "placed_requirements",
    "results",
    "served",
    "served_at_most",
    "usual_step",
]
