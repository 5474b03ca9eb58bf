"""The request of a record: with the blocks that were used, as they were, in place of the crib.

The crib changes; a record must say the same for ever, and be enough by itself to be checked.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from wrung.answers import Stack
from wrung.blocks import Block
from wrung.lengths import SMALL_UNIT
from wrung_service.api.metrology.calibration import sent_calibration
from wrung_service.api.metrology.conditions import UseConditions
from wrung_service.api.stacks.reading import StackReading, budget_detail
from wrung_service.api.stacks.request import BlockOnShelf, StackRequest
from wrung_service.api.wire_lengths import raw_length, raw_optional


def as_recorded(reading: StackReading, stacks: Sequence[Stack]) -> StackReading:
    """The reading of a request that brings the blocks of these stacks; the same if it did."""
    if reading.body.crib is None:
        return reading
    used = {placed.id for stack in stacks for placed in stack.blocks}
    blocks = tuple(block for block in reading.query.blocks if block.id in used)
    body = replace(
        reading.body,
        crib=None,
        blocks=tuple(map(write_block_on_shelf, blocks)),
        # They named blocks that were not used; they hold of those that were.
        exclude=(),
        only=None,
        preferences=(),
    )
    return replace(reading, body=_of_its_day(body, reading))


def _of_its_day(body: StackRequest, reading: StackReading) -> StackRequest:
    """With the day of use in words: that of the need is not the day of the record."""
    day = reading.query.conditions.used_on
    if day is None:
        return body
    conditions = replace(body.conditions or UseConditions(), used_on=day.isoformat())
    return replace(body, budget=budget_detail(body), conditions=conditions)


def write_block_on_shelf(block: Block) -> BlockOnShelf:
    """A block as a request brings it."""
    small = SMALL_UNIT[block.unit]
    return BlockOnShelf(
        id=block.id,
        nominal=raw_length(block.nominal, block.unit),
        deviation=raw_optional(block.deviation, small),
        expanded_uncertainty=raw_optional(block.expanded_uncertainty, small),
        limit_deviation=raw_optional(block.limit_deviation, small),
        grade=block.grade,
        material=block.material,
        section=block.section,
        serial=block.serial,
        set=block.set,
        role=block.role,
        unit=block.unit,
        uses=block.uses or None,
        body=block.body,
        calibration=sent_calibration(block.calibration, block.unit),
    )
