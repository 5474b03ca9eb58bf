"""GO and NOT GO, and the two ends of a step's tolerance."""

from typing import Final

from wrung.handwork.uses.use import Uses
from wrung.measures import Measure
from wrung.targets.limit_pair import Feature, GaugeRole, LimitPairResult, LimitPairTarget
from wrung.texts import figure, phrase

_KEYS: Final[dict[tuple[Feature, GaugeRole], str]] = {
    ("internal", "go"): "use.go_internal",
    ("internal", "not_go"): "use.not_go_internal",
    ("external", "go"): "use.go_external",
    ("external", "not_go"): "use.not_go_external",
    ("step", "lower"): "use.step_lower",
    ("step", "upper"): "use.step_upper",
}


def limit_pair(target: LimitPairTarget, result: LimitPairResult) -> Uses:
    """For each limit what its stack must do, and what it says of the part if it does not."""
    feature = target.measured_feature()
    for gauge in result.limits.gauges:
        if gauge.stack is not None:
            length = figure("length", gauge.stack.wanted_length, Measure.LENGTH)
            limit = figure("limit", gauge.limit, Measure.LENGTH)
            yield gauge.role, phrase(_KEYS[feature, gauge.role], length, limit)
