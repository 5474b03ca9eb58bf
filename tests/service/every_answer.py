"""Requests that between them ask for every kind of target and every option, for walks over answers.

The shop is invented. `asked` gives them in one unit; all of them are answered, some only in part.
"""

import json
from collections.abc import Iterator
from importlib.resources import files
from typing import Any, Final

from wrung.lengths import Unit
from wrung_service.api.kinds.examples import file_of, name_of
from wrung_service.api.kinds.wanted import KINDS

Json = dict[str, Any]

_SETS: Final[dict[Unit, list[Json]]] = {
    "mm": [
        {"id": "K1", "composition": "metric-112-1", "grade": "1", "material": "steel"},
        {"id": "K2", "composition": "metric-47-a", "grade": "2", "material": "zirconia"},
    ],
    "in": [
        {"id": "K1", "composition": "inch-81", "grade": "AS-1", "material": "steel"},
        {"id": "K2", "composition": "inch-81", "grade": "2", "material": "zirconia"},
    ],
}
_WEAR: Final[dict[Unit, str]] = {"mm": "2", "in": "0.05"}
_LARGE: Final[dict[Unit, str]] = {"mm": "150", "in": "6"}


def asked(unit: Unit) -> Iterator[tuple[str, str, Json]]:
    """Name, path and body of each request."""
    for name, targets in _targets(unit).items():
        yield name, "/v1/stacks", _full(unit, targets)
    yield "shortage", "/v1/stacks", _short(unit)
    yield "ratio", "/v1/stacks", _with_ratio(unit)
    yield "choices", "/v1/stacks", _choices(unit)
    yield "check", "/v1/stack-checks", _check(unit)
    yield "coverage", "/v1/coverage", _coverage(unit)
    yield "contact", "/v1/contact-compressions", _contact(unit)


def example(kind: str) -> Json:
    """The example request of a kind."""
    found = next(each for each in KINDS if name_of(each) == kind)
    text = files("wrung_service.api").joinpath("examples", f"{file_of(found, 'request')}.json")
    return dict(json.loads(text.read_text(encoding="utf-8")))


def _contact(unit: Unit) -> Json:
    """A force that presses the ball in too far for the formula."""
    return {
        "unit": unit,
        "force_newtons": 9000,
        "ball_diameter": _size(unit, "2", "0.08"),
        "ball_material": "tungsten-carbide",
        "other_material": "steel",
    }


def _full(unit: Unit, targets: list[Json]) -> Json:
    """A request with handwork, budgets and whatever else puts words into an answer."""
    return {
        "unit": unit,
        "sets": _SETS[unit],
        "blocks": [
            {"id": f"w{k}", "nominal": _WEAR[unit], "role": "wear", "limit_deviation": "9"}
            for k in (1, 2)
        ]
        + [_certified("L1", _LARGE[unit])],
        "targets": targets,
        "handwork": True,
        "budget": "table",
        "conditions": {
            "part": {"expansion": {"value": 23}, "temperature_difference": {"value": 1}}
        },
        "time_limit_ms": 5000,
    }


def _certified(name: str, nominal: str) -> Json:
    return {"id": name, "nominal": nominal, "deviation": "3", "expanded_uncertainty": "2"}


def _size(unit: Unit, metric: str, inch: str) -> str:
    return metric if unit == "mm" else inch


def _targets(unit: Unit) -> dict[str, list[Json]]:
    """Targets of every kind: for mm those of its example, where that is in mm."""
    length = {"kind": "length", "length": _size(unit, "171.2", "6.345")}
    plain = {"length": [{"ref": "x", "wear_blocks": "both", **length}]}
    if unit == "in":
        return plain | _in_inch()
    examples = {name_of(kind): example(name_of(kind)) for kind in KINDS}
    metric = {name: each["targets"] for name, each in examples.items() if each["unit"] == "mm"}
    return plain | _in_inch() | metric | _in_mm()


def _in_mm() -> dict[str, list[Json]]:
    bar = {"centre_distance": "100", "deviation": "0.5", "expanded_uncertainty": "0.8"}
    members: dict[str, Json] = {
        "sine": {"bar": bar, "angle": "62.5", "lower_stack": "10"},
        "compound_sine": {"base": bar, "top": bar, "angles_given_as": "views", "first_angle": "50",
                          "second_angle": "12"},
        "dovetail": {"form": "male", "angle": "60", "width": "50", "roll_diameter": "10"},
        "external_taper": {"taper": {"designation": "7:24 45"}, "small_end": "35",
                           "roll_diameter": "10", "stack_length": "50"},
        "internal_taper": {"taper": {"ratio": "10"}, "large_end": "40", "large_ball": "36",
                           "small_ball": "32"},
        "centre_distance": {"centre_distance": "80", "first_pin": "10", "measured_to": "edge"},
        "ring_bore": {"ends": "rods", "bore": "200", "first_end": "25"},
    }  # fmt: skip
    return {name: [{"ref": "x", "kind": name, **given}] for name, given in members.items()}


def _in_inch() -> dict[str, list[Json]]:
    bar = {"centre_distance": "5", "deviation": "20", "expanded_uncertainty": "30"}
    small = {"lower_deviation": "-400", "upper_deviation": "200"}
    members: dict[str, Json] = {
        "limits": {"nominal": "0.875", "lower_deviation": "0", "upper_deviation": "100"},
        "fit": {"nominal": "1", "tolerance_class": "H7", "rounded_to": "0.0001",
                "gauge_standard": "iso_r_1938"},
        "inch_fit": {"nominal": "1.25", "fit_class": "LC2", "feature": "external"},
        "general_tolerance": {"nominal": "2", "general_class": "m", "rounded_to": "0.0001",
                              "guard_by_uncertainty": True},
        "sine": {"bar": bar, "angle": "62.5"},
        "compound_sine": {"base": bar, "top": bar, "angles_given_as": "views", "first_angle": "50",
                          "second_angle": "12"},
        "check_points": {"series": "inch-0.025"},
        "comparison": {"nominal": "2.5", **small, "indicator_range": "300",
                       "scale_interval": "100", "part_temperature": "23"},
        "between_jaws": {"size": "2.5", **small, "accessories": [
            {"thickness": "0.1", "effect": "adds"}]},
        "external_taper": {"included_angle": "8", "small_end": "1.2", "roll_diameter": "0.25",
                           "stack_length": "2",
                           "contact": {"force_newtons": "2.5", "contact_length": "0.25"}},
        "internal_taper": {"included_angle": "12", "large_end": "2", "large_ball": "1.625",
                           "small_ball": "1.25"},
        "two_rolls": {"angle": "20", "large_roll": "1", "small_roll": "0.5",
                      "contact": {"force_newtons": "10", "contact_length": "0.354"}},
        "dovetail": {"form": "female", "angle": "60", "width": "3", "roll_diameter": "0.5"},
        "angle_blocks": {"angle": "27°30'15\"", "composition": "angle-16"},
        "centre_distance": {"centre_distance": "3.5", "first_pin": "0.5", "measured_length": "3",
                            "pin_uncertainty": "20", "comparison_uncertainty": "50"},
        "v_block": {"cylinder_diameter": "1.25", "master_diameter": "1", "master_height": "2.4142",
                    "angle_uncertainty": "20", "height_uncertainty": "50"},
        "radius_gauge": {"form": "concave", "radius": "3", "roll_diameter": "1.25"},
        "height_setting": {"height": "7.125", "riser": "3", "riser_uncertainty": "40"},
        "depth_setting": {"depth": "1.75"},
        "bench_centres": {"diameter": "1.25", "master_diameter": "1", "master_height": "3.5",
                          "measured_length": "3.6255"},
        "ladder": {"lowest": "0.5", "step": "0.001", "highest": "0.503",
                   "readings": ["0", "1010", "2015", "3020"]},
        "ring_bore": {"ends": "balls", "bore": "6", "first_end": "0.5", "measured_rock": "0.1"},
        "thread_wires": {"threads_per_inch": "8", "major_diameter": "1", "wire_diameter": "0.072",
                         "wire_uncertainty": "10", "angle_uncertainty": "120"},
        "gear_pins": {"number_of_teeth": 23, "diametral_pitch": "8", "lower_deviation": "-2000",
                      "upper_deviation": "0", "pin_uncertainty": "10", "angle_uncertainty": "60"},
    }  # fmt: skip
    assert set(members) == {name_of(kind) for kind in KINDS}
    found = {name: [{"ref": "x", "kind": name, **given}] for name, given in members.items()}
    series = found["check_points"][0]
    found["check_points of a higher range"] = [{**series, "range_from": "1"}]
    rows = [f"{tenth / 10}" for tenth in range(11)]
    found["check_points of a depth gauge"] = [
        {**series, "instrument": "depth_gauge", "permissible_error": "100", "readings": rows}
    ]
    turns = {"pitch": "0.05", "travel": "1", "range_from": "0.5", "readings": rows}
    found["check_points of an indicator"] = [
        {"ref": "x", "kind": "check_points", "instrument": "dial_indicator", **turns}
    ]
    return found


def _short(unit: Unit) -> Json:
    """One target can be built, one only alone, one never, one angle twice."""
    nominal = _size(unit, "10", "0.5")
    wedge = {"kind": "angle_blocks", "angle": "45", "composition": "angle-16"}
    targets = [
        {"ref": "a", "kind": "length", "length": nominal},
        {"ref": "b", "kind": "length", "length": nominal},
        {"ref": "c", "kind": "length", "length": _size(unit, "7", "0.3")},
        {"ref": "d", **wedge},
        {"ref": "e", **wedge},
        {"ref": "f", **wedge, "angle": "0°0'0.5\""},
    ]
    blocks = [{"id": nominal, "nominal": nominal, "limit_deviation": "5"}]
    return {"unit": unit, "blocks": blocks, "targets": targets, "time_limit_ms": 5000}


def _with_ratio(unit: Unit) -> Json:
    """Warnings: by the ratio required, by the usual four, and a ratio that is planned with."""
    size = _size(unit, "12.5", "0.5")
    parts = {
        "a": (_size(unit, "0.003", "0.0001"), {"required_ratio": 20}),
        "b": (_size(unit, "0.0006", "0.00003"), {}),
        "c": (_size(unit, "0.002", "0.0001"), {}),
        "d": (
            _size(unit, "0.0002", "0.00001"),
            {"required_ratio": 20, "enforce_required_ratio": True},
        ),
    }
    targets = [{"ref": ref, "kind": "length", "length": size} for ref in parts]
    tolerances = [
        {"target": ref, "lower": size, "upper": f"{float(size) + float(width):.6f}", **more}
        for ref, (width, more) in parts.items()
    ]
    return {
        "unit": unit,
        "sets": [{**each, "grade": "2"} if unit == "mm" else each for each in _SETS[unit]],
        "blocks": [_certified("own", size), _certified("spare", size)],
        "targets": targets,
        "part_tolerances": tolerances,
        "budget": "table",
        "conditions": {"temperature": {"value": 21, "limits": 1}},
        "time_limit_ms": 5000,
    }


def _choices(unit: Unit) -> Json:
    """Of one set: with two the trade-off may take all its time."""
    return {
        "unit": unit,
        "sets": _SETS[unit][:1],
        "targets": [{"ref": "a", "kind": "length", "length": _size(unit, "41.37", "0.9412")}],
        "error_measure": {"kind": "expanded_uncertainty"},
        "alternatives": 2,
        "trade_off": True,
        "preferences": [{"goal": "spread_wear"}, {"goal": "spare_best"}],
        "budget": "totals",
        "handwork": True,
        "time_limit_ms": 8000,
    }


def _check(unit: Unit) -> Json:
    first, second = _size(unit, "1.5", "0.105"), _size(unit, "20", "0.75")
    return {
        "unit": unit,
        "sets": _SETS[unit],
        "stack": [f"K1/{second}", f"K1/{first}"],
        "length": _size(unit, "21.5", "0.855"),
        "part_limits": {"lower": _size(unit, "21.5", "0.855"),
                        "upper": _size(unit, "21.502", "0.8551")},
        "conditions": {"part": {"material": "aluminium"}},
        "instruments": [{"name": "M-3", "resolution": _size(unit, "0.001", "0.00005")}],
        "time_limit_ms": 5000,
    }  # fmt: skip


def _coverage(unit: Unit) -> Json:
    start, stop, step = ("1", "9", "0.05") if unit == "mm" else ("0.1", "0.4", "0.001")
    return {
        "unit": unit,
        "sets": [{**_SETS[unit][0], "missing": [_size(unit, "1.5", "0.105")]}],
        "range": {"start": start, "stop": stop, "step": step},
        "max_blocks": 3,
        "picture": True,
        "time_limit_ms": 5000,
    }


def sentences(answer: object, request: object) -> Iterator[tuple[str, str]]:
    """Path and text of everything in words: text with a space that is none of the request's."""
    names = {text for _, text in texts(request)}
    return (
        (at, text)
        for at, text in texts(answer)
        # A stack is called by its target's name and a part of its own.
        if " " in text and names.isdisjoint((text, text.rpartition("/")[0]))
    )


def texts(value: object, at: str = "") -> Iterator[tuple[str, str]]:
    """Path and text of all text in an answer."""
    if isinstance(value, dict):
        for name, each in value.items():
            yield from texts(each, f"{at}/{name}")
    elif isinstance(value, list):
        for place, each in enumerate(value):
            yield from texts(each, f"{at}/{place}")
    elif isinstance(value, str):
        yield at, value
