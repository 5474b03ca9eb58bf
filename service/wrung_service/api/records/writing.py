"""The record of an answer, from the request that was read and the stacks that came of it."""

from collections.abc import Sequence
from datetime import datetime
from typing import Final

import msgspec
from msgspec import UNSET, Raw
from msgspec.structs import replace

import wrung
from wrung.answers import PlacedBlock, Stack
from wrung.blocks import Block, margin
from wrung.calibrations import Calibration
from wrung.lengths import SMALL_UNIT, SmallUnit, to_text
from wrung.measures import TemperatureUnit
from wrung_service.api.metrology.conditions import UncertainValue, UseConditions
from wrung_service.api.records.normal import decimal_text, normal_request, request_hash
from wrung_service.api.records.shape import (
    RecordedBlock,
    RecordedStack,
    RecordedTarget,
    StackRecord,
    UncertaintyKind,
)
from wrung_service.api.records.standards import standards_used
from wrung_service.api.stacks.built import name_stack
from wrung_service.api.stacks.reading import StackReading
from wrung_service.api.stacks.targets import stack_names
from wrung_service.api.words import degrees_of
from wrung_service.usecases.judge_stacks import JudgedStack

_REFERENCE: Final[dict[TemperatureUnit, float]] = {"degC": 20.0, "degF": 68.0}
"""ISO 1."""


def write_record(
    reading: StackReading,
    stacks: Sequence[Stack],
    judged: Sequence[JudgedStack],
    made_at: datetime,
) -> StackRecord:
    """The record of those stacks, each with how sure it is."""
    body, query = reading.body, reading.query
    small, shelf = SMALL_UNIT[body.unit], {block.id: block for block in query.blocks}
    request = normal_request(reading)
    served = {stack.name for stack in stacks}
    return StackRecord(
        made_at=made_at,
        version=wrung.__version__,
        request_sha256=request_hash(request),
        request=request,
        unit=body.unit,
        small_unit=small,
        temperature_unit=degrees_of(body.temperature_unit),
        joint_allowance=to_text(query.joint_allowance, small),
        conditions=_as_used(reading),
        standards=standards_used(
            query, [shelf[placed.id] for stack in stacks for placed in stack.blocks]
        ),
        targets=tuple(
            RecordedTarget(target=t.ref, kind=str(t.__struct_config__.tag), labels=t.labels)
            for t in body.targets
        ),
        stacks=tuple(
            _stack(stack, sure, shelf, reading) for stack, sure in zip(stacks, judged, strict=True)
        ),
        unmet=tuple(name_stack(n) for n in stack_names(query.targets) if n not in served),
    )


def _as_used(reading: StackReading) -> UseConditions:
    sent = reading.body.conditions or UseConditions()
    day = reading.query.conditions.used_on
    joint = sent.joint_uncertainty
    degrees = degrees_of(reading.body.temperature_unit)
    return replace(
        sent,
        used_on=None if day is None else day.isoformat(),
        temperature=sent.temperature or UncertainValue(value=_REFERENCE[degrees]),
        joint_uncertainty=_normal(joint) if isinstance(joint, Raw) else joint,
    )


def _normal(raw: Raw) -> Raw:
    data = bytes(raw)
    text = msgspec.json.decode(data) if data.startswith(b'"') else data.decode()
    return raw if data == b"null" else Raw(msgspec.json.encode(decimal_text(text)))


def _stack(
    stack: Stack, sure: JudgedStack, shelf: dict[str, Block], reading: StackReading
) -> RecordedStack:
    unit = reading.body.unit
    small = SMALL_UNIT[unit]
    budget = sure.budget
    return RecordedStack(
        target=stack.target,
        role=stack.role,
        length=to_text(stack.length, unit),
        nominal=to_text(stack.nominal, unit),
        deviation=to_text(stack.deviation, small),
        worst_case_error=to_text(stack.worst_case_error, small),
        expanded_uncertainty=to_text(budget.corrected.expanded_uncertainty, small)
        if budget
        else None,
        blocks=tuple(_block(placed, shelf[placed.id], small) for placed in stack.blocks),
    )


def _block(placed: PlacedBlock, block: Block, small: SmallUnit) -> RecordedBlock:
    calibration = block.calibration or Calibration()
    return RecordedBlock(
        id=block.id,
        serial=block.serial,
        set=block.set,
        nominal=to_text(placed.nominal, block.unit),
        unit=block.unit,
        role=block.role,
        body=block.body or UNSET,
        material=block.material,
        grade=block.grade,
        certificate=calibration.certificate,
        laboratory=calibration.laboratory,
        calibrated_on=calibration.calibrated_on,
        due_on=calibration.due_on,
        deviation=None if block.deviation is None else to_text(block.deviation, small),
        uncertainty=to_text(margin(block), small),
        uncertainty_kind=_kind(block),
    )


def _kind(block: Block) -> UncertaintyKind:
    if block.deviation is not None:
        return "expanded_uncertainty"
    return "grade" if block.limit_deviation is None else "limit_deviation"
