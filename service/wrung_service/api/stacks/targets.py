"""Reads what must be built."""

from collections.abc import Iterable, Sequence

from wrung.errors import InputError
from wrung.lengths import Unit
from wrung.stack_names import StackName
from wrung.targets import LengthTarget, Target, Tolerance, in_turn
from wrung_service.api.faults import Faults, Path
from wrung_service.api.kinds.shapes import Units
from wrung_service.api.kinds.wanted import kind_of, read_wanted
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.request import (
    StackRequest,
    WantedLength,
    WantedTarget,
    WantedTolerance,
)
from wrung_service.api.stacks.times import read_time
from wrung_service.api.texts import unprintable
from wrung_service.api.wire_lengths import SIGNED
from wrung_service.api.words import degrees_of


def read_targets(body: StackRequest, faults: Faults) -> tuple[Target, ...]:
    """The targets of a request; what is wrong with them goes to ``faults``."""
    units = Units(length=body.unit, degrees=degrees_of(body.temperature_unit))
    return tuple(
        _read(target, units, ("targets", index), faults)
        for index, target in enumerate(body.targets)
    )


def in_time(body: StackRequest, targets: Sequence[Target], faults: Faults) -> tuple[Target, ...]:
    """The targets with their turns, where they are needed one after another."""
    if body.timing == "together":
        return tuple(targets)
    try:
        return in_turn(targets)
    except InputError as error:
        for fault in error.faults:
            faults.meaningless(fault.pointer, fault.detail)
        return tuple(targets)


def stack_names(targets: Iterable[Target]) -> tuple[StackName, ...]:
    """The names of all stacks that the targets need; nothing of a target that makes no sense."""
    return tuple(name for target in targets for name in _names(target))


def _names(target: Target) -> tuple[StackName, ...]:
    try:
        return tuple(requirement.name for requirement in target.requirements())
    except InputError:
        return ()  # what is wrong with it is said with everything else that is


def _read(sent: WantedTarget, units: Units, at: Path, faults: Faults) -> Target:
    for name, detail in unprintable(sent.labels):
        faults.invalid((*at, "labels", name), detail)
    if isinstance(sent, WantedLength):
        return _length(sent, units.length, at, LengthReader(faults), faults)
    return read_wanted(kind_of(sent), sent, units, at, faults)


def _length(
    target: WantedLength, unit: Unit, at: Path, reader: LengthReader, faults: Faults
) -> LengthTarget:
    return LengthTarget(
        ref=target.ref,
        length=reader.required(target.length, unit, (*at, "length")),
        tolerance=_tolerance(target.tolerance, unit, (*at, "tolerance"), reader),
        max_blocks=target.max_blocks,
        wear_blocks=target.wear_blocks,
        needed_from=read_time(target.needed_from, (*at, "needed_from"), faults),
        needed_until=read_time(target.needed_until, (*at, "needed_until"), faults),
        setup=target.setup,
        priority=target.priority,
    )


def _tolerance(
    wanted: WantedTolerance | None, unit: Unit, at: Path, reader: LengthReader
) -> Tolerance:
    if wanted is None:
        return Tolerance()
    return Tolerance(
        lower=reader.optional(wanted.lower, unit, (*at, "lower"), SIGNED) or 0,
        upper=reader.optional(wanted.upper, unit, (*at, "upper"), SIGNED) or 0,
    )
