"""Sizes that are compared with a stack by way of pins, rolls, wires or balls."""

from typing import Final

from msgspec.structs import replace

from wrung.angles import to_degrees
from wrung.handwork.uses.use import Uses, stated, worked_out
from wrung.measures import Measure
from wrung.targets.bench_centres import BenchCentresResult, BenchCentresTarget
from wrung.targets.centre_distance import CentreDistanceResult, CentreDistanceTarget
from wrung.targets.gear_pins import GearPinsResult
from wrung.targets.height_setting import HeightSettingResult, HeightSettingTarget
from wrung.targets.radius_gauge import RadiusGaugeResult, RadiusGaugeTarget
from wrung.targets.ring_bore import RingBoreResult, RingBoreTarget
from wrung.targets.size import FoundSize, SizeResult
from wrung.targets.thread_wires import ThreadWiresResult
from wrung.targets.v_block import VBlockResult, VBlockTarget
from wrung.texts import Figure, Phrase, figure, phrase

_PINS: Final = {
    ("between", "hole"): "use.pins_between_hole",
    ("between", "edge"): "use.pins_between_edge",
    ("over", "hole"): "use.pins_over_hole",
    ("over", "edge"): "use.pins_over_edge",
}


def centre_distance(result: CentreDistanceResult, target: CentreDistanceTarget, *_: object) -> Uses:
    """Between the pins or over them, and what distance that stands for."""
    key = _PINS[target.stack_position, target.measured_to]
    pins = stated("pins", target.first_pin, target.second_pin)
    yield from _use(result, result.centre_distance, key, pins)


def v_block(result: VBlockResult, target: VBlockTarget, *_: object) -> Uses:
    """As high as the cylinder, and what diameter that stands for."""
    angle = figure("angle", to_degrees(target.included_angle), Measure.RATIO)
    known = figure("known", _known(target))
    yield from _use(result, result.cylinder_diameter, "use.v_block", angle, known)


def _known(target: VBlockTarget) -> Phrase:
    if target.vertex_height is not None:
        return phrase("use.v_vertex", stated("height", target.vertex_height))
    return _over_master(target.master_diameter, target.master_height)


def _over_master(master: int | None, height: int | None) -> Phrase:
    return phrase("use.over_master", stated("master", master), stated("height", height))


def height_setting(result: HeightSettingResult, target: HeightSettingTarget, *_: object) -> Uses:
    """On the plate or on the riser, and how high that is."""
    key = "use.height_on_riser" if target.riser else "use.height"
    yield from _use(result, result.height, key, stated("riser", target.riser))


def bench_centres(result: BenchCentresResult, target: BenchCentresTarget, *_: object) -> Uses:
    """Beside the centres, and what diameter is as high."""
    known = figure("known", _over_master(target.master_diameter, target.master_height))
    yield from _use(result, result.diameter, "use.bench_centres", known)


def radius_gauge(result: RadiusGaugeResult, target: RadiusGaugeTarget, *_: object) -> Uses:
    """Over the rolls or above the middle one, and what radius that stands for."""
    key = "use.radius_convex" if target.form == "convex" else "use.radius_concave"
    yield from _use(result, result.radius, key, stated("rolls", target.roll_diameter))


def ring_bore(result: RingBoreResult, target: RingBoreTarget, *_: object) -> Uses:
    """Across the bore or rocked in it, and what bore that stands for."""
    rock, bore = result.expected_rock, result.bore
    ends = stated("ends", target.first_end, target.second_end)
    balls = target.ends == "balls"
    if rock:
        key = "use.bore_rocked_balls" if balls else "use.bore_rocked_rods"
        # So far it rocks in the wanted bore; size_as_built may be that of another, measured one.
        wanted = replace(bore, size_as_built=bore.size_as_built and bore.wanted_size)
        yield from _use(result, wanted, key, ends, worked_out("rock", rock))
    else:
        yield from _use(result, bore, "use.bore_balls" if balls else "use.bore_rods", ends)


def thread_wires(result: ThreadWiresResult, *_: object) -> Uses:
    """Over the wires, and what pitch diameter that stands for."""
    wires = worked_out("wires", result.wire_diameter)
    yield from _use(result, result.pitch_diameter, "use.thread_wires", wires)


def gear_pins(result: GearPinsResult, *_: object) -> Uses:
    """Over the pins, and what tooth thickness that stands for."""
    pins = worked_out("pins", result.pin_diameter)
    yield from _use(result, result.tooth_thickness, "use.gear_pins", pins)


def _use(result: SizeResult, found: FoundSize, key: str, *more: Figure) -> Uses:
    """The length of the stack, and the size that it stands for as it is built."""
    if result.stack is None or found.size_as_built is None:
        return
    length = figure("length", result.stack.length, Measure.LENGTH)
    sure = found.size_budget.expanded_uncertainty if found.size_budget else None
    size = worked_out("size", found.size_as_built, sure)
    yield result.stack.role, phrase(key, length, size, *more)
