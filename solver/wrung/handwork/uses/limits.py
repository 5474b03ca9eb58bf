"""GO and NOT GO, the two ends of a step's tolerance, and gauges that are made for limits."""

from typing import Final

from wrung.handwork.uses.use import Uses
from wrung.measures import Measure
from wrung.rounding import Rounding
from wrung.targets.limit_pair import Feature, LimitPairTarget
from wrung.targets.limit_results import GaugeRole, LimitGauge, LimitPairResult
from wrung.texts import Figure, Phrase, figure, phrase

_KEYS: Final[dict[tuple[Feature, GaugeRole], tuple[str, str]]] = {
    # What is done with the stack, and what it says of a part that fails.
    ("internal", "go"): ("use.go_internal", "use.fails_go_internal"),
    ("internal", "not_go"): ("use.not_go_internal", "use.fails_not_go_internal"),
    ("external", "go"): ("use.go_external", "use.fails_go_external"),
    ("external", "not_go"): ("use.not_go_external", "use.fails_not_go_external"),
    ("step", "lower"): ("use.step_lower", "use.fails_step_lower"),
    ("step", "upper"): ("use.step_upper", "use.fails_step_upper"),
}


def limit_pair(result: LimitPairResult, target: LimitPairTarget, *_: object) -> Uses:
    """For each limit what its stack must do, and what it says of the part if it does not."""
    feature = target.measured_feature()
    for gauge in result.limits.gauges:
        if gauge.stack is not None:
            length = figure("length", gauge.stack.wanted_length, Measure.LENGTH)
            side = _side(result, gauge)
            if gauge.smallest_gauge is not None:
                yield gauge.role, _for_gauge(gauge, length, side)
            else:
                use, failing = _KEYS[feature, gauge.role]
                said = figure("failing", _failing(failing, gauge, side))
                yield gauge.role, phrase(use, length, said)


def _side(result: LimitPairResult, gauge: LimitGauge) -> Rounding:
    """Whether its limit is the least or the most that a part may have."""
    return "least" if gauge.limit == result.limits.lower else "most"


def _failing(plain: str, gauge: LimitGauge, side: Rounding) -> Phrase:
    limit = figure("limit", gauge.limit, Measure.LENGTH, side)
    if gauge.moved_inward is None:
        return phrase(plain, limit)
    # A part between the stack and the limit is good, and fails.
    return phrase("use.inside", figure("inside", gauge.moved_inward, Measure.MARGIN, "most"), limit)


def _for_gauge(gauge: LimitGauge, length: Figure, side: Rounding) -> Phrase:
    """What the maker of a gauge does with its stack; it wears towards the limit of the part."""
    limit, worn = gauge.limit, gauge.wear_limit
    return phrase(
        "use.go_gauge" if gauge.role == "go" else "use.not_go_gauge",
        length,
        figure("smallest", gauge.smallest_gauge or 0, Measure.LENGTH, "least"),
        figure("largest", gauge.largest_gauge or 0, Measure.LENGTH, "most"),
        figure(
            "end",
            phrase("use.gauge_limit", figure("limit", limit, Measure.LENGTH, side))
            if worn is None
            else phrase("use.gauge_worn", figure("worn", worn, Measure.LENGTH, side)),
        ),
    )
