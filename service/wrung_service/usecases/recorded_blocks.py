"""Blocks as the record of a plan has them, and what was asked that a change of them can break."""

from collections.abc import Mapping
from datetime import date
from functools import partial
from typing import Final

import msgspec
from msgspec import Struct

from wrung.blocks import Block, Role
from wrung.calibrations import Calibration
from wrung.lengths import SMALL_UNIT, SmallUnit, Unit, parse


class _Calibration(Struct, frozen=True):
    calibrated_on: date | None = None
    coverage_factor: float = 2.0
    degrees_of_freedom: float | None = None
    variation: str | None = None
    expansion: float | None = None
    expansion_uncertainty: float | None = None


class _Block(Struct, frozen=True):
    id: str
    nominal: str
    unit: Unit
    role: Role
    deviation: str | None = None
    expanded_uncertainty: str | None = None
    limit_deviation: str | None = None
    grade: str | None = None
    material: str | None = None
    body: str | None = None
    calibration: _Calibration | None = None


class _Request(Struct, frozen=True):
    blocks: tuple[_Block, ...] = ()


class _Record(Struct, frozen=True):
    request: _Request = _Request()


class _Crib(Struct, frozen=True):
    sets: tuple[str, ...] = ()


class _Conditions(Struct, frozen=True):
    used_on: date | None = None


class Asked(Struct, frozen=True):
    """What a plan asked of its blocks beside their lengths."""

    crib: _Crib = _Crib()
    allow_overdue: bool = False
    conditions: _Conditions | None = None

    @property
    def used_on(self) -> date | None:
        """The day of use, if it was stated."""
        return self.conditions.used_on if self.conditions else None


_RECORDS: Final = msgspec.json.Decoder(_Record)
_REQUESTS: Final = msgspec.json.Decoder(Asked)


def asked_of(request: str) -> Asked:
    """What the request of a plan asked of its blocks; ``request`` is JSON."""
    return _REQUESTS.decode(request)


def recorded_blocks(record: str) -> Mapping[str, Block]:
    """By id, the blocks of a record, with all that figures rest on; ``record`` is JSON."""
    return {each.id: _read(each) for each in _RECORDS.decode(record).request.blocks}


def _read(block: _Block) -> Block:
    small = partial(_length, unit=SMALL_UNIT[block.unit])
    return Block(
        id=block.id,
        nominal=parse(block.nominal, block.unit),
        deviation=small(block.deviation, signed=True),
        expanded_uncertainty=small(block.expanded_uncertainty),
        limit_deviation=small(block.limit_deviation),
        grade=block.grade,
        material=block.material,
        role=block.role,
        unit=block.unit,
        body=block.body,
        calibration=_calibration(block.calibration, SMALL_UNIT[block.unit]),
    )


def _calibration(known: _Calibration | None, unit: SmallUnit) -> Calibration | None:
    if known is None:
        return None
    return Calibration(
        calibrated_on=known.calibrated_on,
        coverage_factor=known.coverage_factor,
        degrees_of_freedom=known.degrees_of_freedom,
        variation=_length(known.variation, unit),
        expansion=known.expansion,
        expansion_uncertainty=known.expansion_uncertainty,
    )


def _length(text: str | None, unit: SmallUnit, *, signed: bool = False) -> int | None:
    return None if text is None else parse(text, unit, signed=signed)
