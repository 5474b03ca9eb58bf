"""Gauge block stacks that can really be built, proven best, with their worst-case error.

Blocks and targets go in, a plan comes out; lengths are whole numbers of 0.01 nm, see `inch`, `mm`.

>>> from wrung import GaugeSet, LengthTarget, inch, solve
>>> shelf = GaugeSet(id="bench-3", composition="inch-81", grade="AS-1").blocks()
>>> answer = solve(shelf, [LengthTarget(ref="op20", length=inch("1.3507"))])
>>> answer.outcome, answer.total_blocks
('optimal', 3)

Where to look, with `help`:

- Lengths: `mm`, `inch`, `um`, `uin` and `parse` read text, `to_text` writes it. Whole numbers of
  0.01 nm, so that inch and metric blocks add up without rounding.
- Angles: `angle` reads degrees, minutes and seconds or radians, `to_dms` and `to_degrees` write
  them. Whole numbers of 1e-9 seconds of arc.
- Targets: `LengthTarget`, `LimitsTarget`, `FitTarget`, `InchFitTarget`, `GeneralToleranceTarget`,
  `SineTarget`, `CompoundSineTarget`, `CheckPointsTarget`, `ComparisonTarget`, `BetweenJawsTarget`,
  `ExternalTaperTarget`, `InternalTaperTarget`, `TwoRollsTarget`, `DovetailTarget`,
  `AngleBlocksTarget`, `CentreDistanceTarget`, `VBlockTarget`, `RadiusGaugeTarget`,
  `RingBoreTarget`, `ThreadWiresTarget`, `GearPinsTarget`, `HeightSettingTarget`,
  `DepthSettingTarget`, `BenchCentresTarget`, `LadderTarget`; `Target` is any of them.
- Words with a fixed meaning: `Unit` and `SmallUnit`; `Role`, gauge or wear block; `WearBlocks`, how
  many ends carry one; `Objective`, what the best plan is; `PreferenceGoal`, what decides between
  equally good ones; `Outcome`, what was found; `UnmetReason`, why a stack is missing.
- `DEFAULT_JOINT_ALLOWANCE`: the error of one wrung joint unless you say another, 1 µin.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from wrung.angles import angle, to_degrees, to_dms
from wrung.answers import (
    Answer,
    BlockChanges,
    Bounds,
    Diagnostics,
    Nearest,
    Objective,
    Outcome,
    PlacedBlock,
    ScarceBlock,
    ServedBound,
    Shortage,
    Stack,
    StackBlocks,
    Unmet,
    UnmetReason,
    Wanted,
)
from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block, Blocks, Role
from wrung.checker.choices import verify_alternatives, verify_trade_off
from wrung.checker.verify import Breach, verify
from wrung.checker.without_claims import without_claims
from wrung.choices import Alternative, Alternatives, TradeOff, TradeOffPoint
from wrung.compositions import Composition, all_compositions, composition
from wrung.coverage.answer import Coverage, LengthGrid
from wrung.deadline import Cancel
from wrung.errors import Fault, InputError, LengthError, WrungError
from wrung.gauge_sets import GaugeSet
from wrung.lengths import SmallUnit, Unit, inch, mm, parse, to_text, uin, um
from wrung.preferences import Preference, PreferenceGoal, PreferenceResult
from wrung.stack_names import StackName
from wrung.targets import (
    Accessory,
    AngleBlocksTarget,
    BenchCentresTarget,
    BetweenJawsTarget,
    CentreDistanceTarget,
    CheckPointsTarget,
    ComparisonTarget,
    CompoundSineTarget,
    DepthSettingTarget,
    DovetailTarget,
    ExternalTaperTarget,
    FitTarget,
    GearPinsTarget,
    GeneralToleranceTarget,
    HeightSettingTarget,
    InchFitTarget,
    InternalTaperTarget,
    LadderTarget,
    LengthTarget,
    LimitsTarget,
    RadiusGaugeTarget,
    Requirement,
    RingBoreTarget,
    SineBar,
    SineTarget,
    Target,
    ThreadWiresTarget,
    Tolerance,
    TwoRollsTarget,
    VBlockTarget,
    WearBlocks,
)

if TYPE_CHECKING:
    from wrung.coverage.comparing import compare_coverage
    from wrung.coverage.surveying import coverage_of
    from wrung.planning.alternatives import alternatives
    from wrung.planning.guarding import GuardedAnswer, solve_with_guard_bands
    from wrung.planning.solve import solve
    from wrung.planning.trade_off import trade_off
else:
    _LATER = {
        "GuardedAnswer": "wrung.planning.guarding",
        "alternatives": "wrung.planning.alternatives",
        "compare_coverage": "wrung.coverage.comparing",
        "coverage_of": "wrung.coverage.surveying",
        "solve": "wrung.planning.solve",
        "solve_with_guard_bands": "wrung.planning.guarding",
        "trade_off": "wrung.planning.trade_off",
    }

    def __getattr__(name: str) -> object:
        """Load what searches when it is first used: ortools takes a third of a second to import."""
        if name not in _LATER:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        found = getattr(import_module(_LATER[name]), name)
        globals()[name] = found
        return found


__version__ = "1.1.0"

__all__ = [
    "DEFAULT_JOINT_ALLOWANCE",
    "Accessory",
    "Alternative",
    "Alternatives",
    "AngleBlocksTarget",
    "Answer",
    "BenchCentresTarget",
    "BetweenJawsTarget",
    "Block",
    "BlockChanges",
    "Blocks",
    "Bounds",
    "Breach",
    "Cancel",
    "CentreDistanceTarget",
    "CheckPointsTarget",
    "ComparisonTarget",
    "Composition",
    "CompoundSineTarget",
    "Coverage",
    "DepthSettingTarget",
    "Diagnostics",
    "DovetailTarget",
    "ExternalTaperTarget",
    "Fault",
    "FitTarget",
    "GaugeSet",
    "GearPinsTarget",
    "GeneralToleranceTarget",
    "GuardedAnswer",
    "HeightSettingTarget",
    "InchFitTarget",
    "InputError",
    "InternalTaperTarget",
    "LadderTarget",
    "LengthError",
    "LengthGrid",
    "LengthTarget",
    "LimitsTarget",
    "Nearest",
    "Objective",
    "Outcome",
    "PlacedBlock",
    "Preference",
    "PreferenceGoal",
    "PreferenceResult",
    "RadiusGaugeTarget",
    "Requirement",
    "RingBoreTarget",
    "Role",
    "ScarceBlock",
    "ServedBound",
    "Shortage",
    "SineBar",
    "SineTarget",
    "SmallUnit",
    "Stack",
    "StackBlocks",
    "StackName",
    "Target",
    "ThreadWiresTarget",
    "Tolerance",
    "TradeOff",
    "TradeOffPoint",
    "TwoRollsTarget",
    "Unit",
    "Unmet",
    "UnmetReason",
    "VBlockTarget",
    "Wanted",
    "WearBlocks",
    "WrungError",
    "all_compositions",
    "alternatives",
    "angle",
    "compare_coverage",
    "composition",
    "coverage_of",
    "inch",
    "mm",
    "parse",
    "solve",
    "solve_with_guard_bands",
    "to_degrees",
    "to_dms",
    "to_text",
    "trade_off",
    "uin",
    "um",
    "verify",
    "verify_alternatives",
    "verify_trade_off",
    "without_claims",
]
