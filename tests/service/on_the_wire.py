"""The library's nouns as JSON: what a client sends for the blocks and targets that tests draw."""

from datetime import datetime
from typing import Any, Final, get_type_hints

from msgspec import Struct
from msgspec.structs import fields

from service.bodies import Json
from wrung import Block, Unit, uin
from wrung.lengths import SMALL_UNIT, parse, to_text
from wrung.measures import Measure
from wrung.metrology import RequiredRatio
from wrung_service.api.kinds.hints import element_of, measure_of
from wrung_service.api.kinds.shapes import WIRES, AngleOnWire, Hint, Value

_OF_LENGTHS: Final = (Measure.LENGTH, Measure.DIFFERENCE, Measure.DEVIATION, Measure.MARGIN)


def sent_block(block: Block) -> Json:
    """A block, its lengths in the unit that it is marked in."""
    small = {
        name: to_text(value, SMALL_UNIT[block.unit])
        for name in ("deviation", "expanded_uncertainty", "limit_deviation")
        if (value := getattr(block, name)) is not None
    }
    names = ("id", "role", "unit", "grade", "body")
    plain = {name: getattr(block, name) for name in names}
    return {**plain, "nominal": to_text(block.nominal, block.unit), **small}


def sent_target(target: Struct, unit: Unit) -> Json:
    """A target of any kind; in inches its lengths are taken to a microinch, which is exact."""
    hints = get_type_hints(type(target), include_extras=True)
    values = ((field.name, getattr(target, field.name)) for field in fields(target))
    members = {name: _sent(value, hints[name], unit) for name, value in values if value is not None}
    return {**members, **({"kind": tag} if (tag := target.__struct_config__.tag) else {})}


def sent_ratio(ratio: RequiredRatio, unit: Unit, *, corrected: bool) -> Json:
    """Limits of size of a part as wide as the ratio asks, to plan with."""
    lower = parse("1", "in")
    return {
        "target": ratio.target,
        "role": ratio.role,
        "lower": to_text(lower, unit),
        "upper": to_text(lower + (_exact(ratio.width, unit) or uin("1")), unit),
        "corrected": corrected,
        "required_ratio": float(ratio.ratio),
        "enforce_required_ratio": True,
    }


def _sent(value: Value, hint: Hint, unit: Unit) -> Any:  # noqa: ANN401 - JSON
    measure = measure_of(hint)
    if measure is not None:
        exact = _exact(value, unit) if measure in _OF_LENGTHS else value
        written = WIRES[measure].write(exact, unit)
        return written.degrees if isinstance(written, AngleOnWire) else written
    if isinstance(value, tuple):
        return [_sent(one, element_of(hint), unit) for one in value]
    if isinstance(value, Struct):
        return sent_target(value, unit)
    return value.isoformat() if isinstance(value, datetime) else value


def _exact(quanta: int, unit: Unit) -> int:
    """The same, or a little less, so that it has an exact text in that unit."""
    return quanta if unit == "mm" else quanta // uin("1") * uin("1")
