"""The guard bands that were found, in the request: without them its record could not be checked."""

import msgspec
from msgspec import Raw, Struct
from msgspec.structs import replace

from wrung.lengths import SMALL_UNIT, Unit, to_text
from wrung.targets import Target
from wrung.targets.limit_pair import LimitPairTarget
from wrung_service.api.stacks.reading import StackReading
from wrung_service.usecases.solve_stacks import SolvedStacks


def with_guard_bands(reading: StackReading, solved: SolvedStacks) -> StackReading:
    """The reading of the request that states the guard bands that were found."""
    if solved.targets == reading.query.targets:
        return reading
    body = reading.body
    found = {target.ref: target for target in solved.targets}
    targets = tuple(_stated(each, found[each.ref], body.unit) for each in body.targets)
    query = replace(reading.query, targets=solved.targets)
    return replace(reading, body=replace(body, targets=targets), query=query)


def _stated(target: Struct, found: Target, unit: Unit) -> Struct:
    if not isinstance(found, LimitPairTarget) or not found.guard_by_uncertainty:
        return target
    if found.guard_band is None:
        return target
    text = to_text(found.guard_band, SMALL_UNIT[unit])
    return replace(target, guard_band=Raw(msgspec.json.encode(text)))
