"""Random bodies for every endpoint that searches: all kinds and options, in any combination."""

from collections.abc import Sequence
from typing import Any, Final

from hypothesis import strategies as st
from msgspec.structs import fields, replace

from service.bodies import Json
from service.on_the_wire import sent_block, sent_ratio, sent_target
from solver.proofs.whole_requests import WholeRequest, whole_requests
from solver.targets.samples import SAMPLES
from wrung import Unit, mm, um
from wrung.compositions import composition
from wrung.lengths import to_text
from wrung.targets import LengthTarget, Target, Tolerance
from wrung.testing import length_targets
from wrung_service.api.stacks.targets import stack_names

LIMITS_MS: Final = (1, 50, 200, 200, 500)
SETS: Final = ("metric-112-1", "metric-47-a", "metric-88-1", "inch-81", "wear-metric-2")
DAYS: Final = ("2024-05-01", "2029-12-31", "2031-01-01")
"""Before, just before, and after the shift on which targets are needed."""
ENDS: Final = (-mm("3"), -mm("0.5"), -um("2"), -1, 0, 1, um("2"), mm("0.5"), mm("3"))
"""Of tolerances."""

PRIORITIES: Final = (None, None, None, 1, 2, 99)

_VALUES: Final = st.fixed_dictionaries(
    {"value": st.sampled_from((0, 0.5, 19.2, 20, 24))},
    optional={
        "limits": st.sampled_from((0, 0.2, 3)),
        "distribution": st.sampled_from(("rectangular", "triangular", "arcsine", "normal")),
        "degrees_of_freedom": st.sampled_from((1, 4.5, 50)),
    },
)
_CONDITIONS: Final = st.fixed_dictionaries(
    {},
    optional={
        "used_on": st.sampled_from(DAYS),
        "temperature": _VALUES,
        "part": st.fixed_dictionaries(
            {"material": st.just("steel")},
            optional={"expansion": _VALUES, "temperature_difference": _VALUES},
        ),
        "joint_uncertainty": st.sampled_from(("0", "0.3")),
        "off_centre": st.sampled_from((0, 0.5, 1)),
        "correlation": st.sampled_from((0, 0.4, 1)),
        "coverage_probability": st.sampled_from((0.5, 0.95, 0.99)),
    },
)
_CALIBRATIONS: Final = st.fixed_dictionaries(
    {},
    optional={
        "certificate": st.sampled_from(("4711", "4712")),
        "calibrated_on": st.sampled_from(DAYS[:2]),
        "due_on": st.sampled_from(DAYS[1:]),
        "coverage_factor": st.sampled_from((1.0, 2.0, 2.4)),
        "degrees_of_freedom": st.sampled_from((1, 3.5, 60)),
        "variation": st.just("0.05"),
        "expansion": st.sampled_from((-10, 11.5)),
    },
)


@st.composite
def stack_bodies(draw: st.DrawFn) -> Json:
    """A body of ``POST /v1/stacks``."""
    asked = draw(whole_requests())
    unit: Unit = draw(st.sampled_from(("mm", "in")))
    targets = draw(_targets(asked))
    return {
        "unit": unit,
        "blocks": draw(_blocks(asked)),
        "sets": draw(_sets()),
        "targets": [sent_target(each, unit) for each in targets],
        "part_tolerances": _part_tolerances(draw, asked, targets, unit),
        "error_measure": _measure(asked),
        "objective": asked.objective,
        "exclude": asked.exclude,
        "only": asked.only,
        **draw(_options(alternatives=len(targets) == 1)),
    }


@st.composite
def stack_check_bodies(draw: st.DrawFn) -> Json:
    """A body of ``POST /v1/stack-checks``."""
    asked = draw(whole_requests())
    names = st.sampled_from([block.id for block in asked.blocks])
    stack = draw(st.lists(names, min_size=1, max_size=6, unique=draw(st.integers(0, 4)) > 0))
    length = draw(length_targets(asked.blocks)).length
    options: Json = draw(_options(alternatives=False))
    taken = ("joint_allowance", "conditions", "budget", "language", "time_limit_ms")
    return {
        "unit": "mm",
        "blocks": draw(_blocks(asked)),
        "stack": stack,
        "length": to_text(length, "mm"),
        "find_better_stacks": draw(st.booleans()),
        "instruments": [{"name": "caliper", "resolution": "0.01"}] * draw(st.integers(0, 2)),
        **{name: options[name] for name in taken if name in options},
    }


@st.composite
def coverage_bodies(draw: st.DrawFn) -> Json:
    """A body of ``POST /v1/coverage``."""
    asked = draw(whole_requests())
    step = draw(st.sampled_from(("0.001", "0.01", "0.5", "0.00001", "3", "0")))
    start, stop = sorted(draw(st.integers(1, 20_000)) for _ in range(2))
    return {
        "unit": "mm",
        "blocks": draw(_blocks(asked)),
        "range": {"start": f"{start / 1000:.3f}", "stop": f"{stop / 1000:.3f}", "step": step},
        "max_blocks": draw(st.sampled_from((None, 1, 3, 1000))),
        "wear_blocks": draw(st.sampled_from(("none", "one", "both"))),
        "exclude": asked.exclude,
        "only": asked.only,
        "max_runs": draw(st.sampled_from((0, 3, 200))),
        "picture": draw(st.booleans()),
        "language": draw(st.sampled_from(("en", "de"))),
        "time_limit_ms": draw(st.sampled_from(LIMITS_MS)),
    }


@st.composite
def _targets(draw: st.DrawFn, asked: WholeRequest) -> Sequence[Target]:
    """Lengths of the shelf, and other kinds beside or in place of them."""
    others = [draw(_of_any_kind(f"k{n}")) for n in range(draw(st.sampled_from((0, 0, 1, 3))))]
    lengths = [_wider(draw, each) for each in asked.targets]
    return [*(lengths if not others or draw(st.booleans()) else ()), *draw(st.permutations(others))]


def _wider(draw: st.DrawFn, target: Target) -> Target:
    """Now and then with a window far beside the length, at 0 and below, or as wide as lengths."""
    if not isinstance(target, LengthTarget) or draw(st.integers(0, 4)):
        return target
    ends = sorted(draw(st.sampled_from(ENDS)) for _ in range(2))
    return replace(target, tolerance=Tolerance(lower=ends[0], upper=ends[1]))


@st.composite
def _of_any_kind(draw: st.DrawFn, ref: str) -> Any:  # noqa: ANN401 - a target with some members changed
    """One of the samples, with the options that its kind has as a length has them."""
    sample: Any = draw(st.sampled_from(SAMPLES))
    like = draw(length_targets(()))
    own = {field.name for field in fields(sample)}
    options = ("max_blocks", "wear_blocks", "needed_from", "needed_until", "tolerance")
    taken = {name: getattr(like, name) for name in options if name in own and draw(st.booleans())}
    # A little longer, shorter or wider: what the sample itself says is met in other tests.
    for name in sorted(own - taken.keys()):
        value = getattr(sample, name)
        if isinstance(value, int) and not isinstance(value, bool) and draw(st.integers(0, 5)) == 0:
            by = draw(st.sampled_from((um("1"), um("500"), abs(value) // 2)))
            changed = value + draw(st.sampled_from((-1, 1))) * by
            # An uncertainty below zero breaks the schema already.
            taken[name] = changed if value < 0 else abs(changed)
    return replace(sample, ref=ref, **taken, priority=draw(st.sampled_from(PRIORITIES)))


@st.composite
def _blocks(draw: st.DrawFn, asked: WholeRequest) -> list[Json]:
    """The shelf, some of it calibrated."""
    calibrated = draw(st.integers(0, 3)) == 0
    return [
        {
            **sent_block(block),
            **({"calibration": draw(_CALIBRATIONS)} if calibrated else {}),
            "uses": draw(st.sampled_from((None, 0, 7))),
        }
        for block in asked.blocks
    ]


@st.composite
def _sets(draw: st.DrawFn) -> list[Json]:
    """No set mostly; else one with gaps."""
    if draw(st.integers(0, 2)):
        return []
    name = draw(st.sampled_from(SETS))
    known = composition(name)
    gaps = draw(st.lists(st.sampled_from(known.nominals), max_size=40, unique=True))
    missing = [to_text(nominal, known.unit) for nominal in gaps]
    grade = "1" if known.unit == "mm" else "AS-1"
    return [{"id": "s", "composition": name, "grade": grade, "missing": missing}]


def _part_tolerances(
    draw: st.DrawFn, asked: WholeRequest, targets: Sequence[Target], unit: Unit
) -> list[Json]:
    corrected = asked.error_measure.corrected
    names = set(stack_names(targets))
    planned = [r for r in asked.required_ratios if r.name in names]
    if planned:
        return [sent_ratio(each, unit, corrected=corrected) for each in planned]
    return [
        {"target": name.target, "role": name.role, "lower": "3", "upper": "3.02", "guard": guard}
        for name in sorted(names, key=str)
        for guard in draw(st.sampled_from((("one_sided_95",), ("false_accept_2",), (), ())))
    ]


def _measure(asked: WholeRequest) -> Json:
    measure = asked.error_measure
    return {
        "kind": measure.kind,
        "corrected": measure.corrected,
        "unequal_limits": measure.unequal_limits,
    }


_PREFERENCES: Final = st.sampled_from(
    (
        {"goal": "spread_wear"},
        {"goal": "spread_wear"},
        {"goal": "spare_best"},
        {"goal": "prefer_set", "set": "nobody's"},
    )
)


def _options(*, alternatives: bool) -> st.SearchStrategy[Json]:
    more = {"alternatives": st.sampled_from((1, 5, 20))} if alternatives else {}
    return st.fixed_dictionaries(
        {"time_limit_ms": st.sampled_from(LIMITS_MS)},
        optional={
            "joint_allowance": st.sampled_from(("0", "0.1", "1")),
            "trade_off": st.booleans(),
            "preferences": st.lists(_PREFERENCES, max_size=3),
            "handwork": st.booleans(),
            "language": st.sampled_from(("en", "de")),
            "allow_overdue": st.booleans(),
            "budget": st.sampled_from(("none", "totals", "table")),
            "conditions": _CONDITIONS,
            **more,
        },
    )
