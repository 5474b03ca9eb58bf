"""From the bodies of estimates to their answers."""

from collections.abc import Callable, Iterator
from typing import Generic, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from wrung.errors import Fault, InputError
from wrung.grades import Limits, limits
from wrung.lengths import SMALL_UNIT, to_text
from wrung.measures import Measure, to_kelvin
from wrung.metrology.contact import Contact, Elasticity, ball_contact
from wrung.metrology.drift import FEWEST, Calibrated, drift_of
from wrung.metrology.soaking_time import SoakingTime, soaking_time
from wrung.texts import Phrase, figure, phrase
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.estimates.shapes import (
    CalibrationOfBlock,
    ContactAnswer,
    ContactRequest,
    DriftAnswer,
    DriftRequest,
    SoakingAnswer,
    SoakingRequest,
)
from wrung_service.api.faults import Faults
from wrung_service.api.metrology.calibration import read_day
from wrung_service.api.metrology.figures import rounded
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.wire_lengths import OPTIONAL, SIGNED
from wrung_service.api.words import Words, check_language, said
from wrung_service.pool import Turn
from wrung_service.settings import Limits as ServiceLimits

Body = TypeVar("Body", bound=Struct)
Answer = TypeVar("Answer", bound=Struct)


class EstimateWork(Generic[Body, Answer]):
    """Reads, estimates and writes; made once, as its decoder takes a moment."""

    def __init__(
        self, kind: type[Body], estimate: Callable[[Body, Faults], Answer], limits: ServiceLimits
    ) -> None:
        self._decoder = BodyDecoder(kind, {}, limits.max_body_bytes)
        self._estimate = estimate

    def __call__(self, body: bytes, turn: Turn) -> Answer:
        """The answer to a body.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        asked = self._decoder.decode(body)
        faults = Faults()
        try:
            found = self._estimate(asked, faults)
        except InputError as error:
            for fault in error.faults:
                faults.meaningless(fault.pointer, fault.detail)
            refuse_if_any(faults)
            raise
        return replace(found, waited_ms=round(turn.waited_ms, 1))


def soaking(asked: SoakingRequest, faults: Faults) -> SoakingAnswer:
    """How long a bar takes."""
    reader = LengthReader(faults)
    check_language(asked.language, faults)
    width = reader.required(asked.width, asked.unit, ("width",))
    height = reader.required(asked.height, asked.unit, ("height",))
    length = reader.optional(asked.length, asked.unit, ("length",), OPTIONAL)
    refuse_if_any(faults)
    found = soaking_time(
        asked.material,
        width=width,
        height=height,
        length=length,
        mass_kg=asked.mass_kg,
        difference=to_kelvin(asked.difference, asked.temperature_unit),
        remaining=to_kelvin(asked.remaining, asked.temperature_unit),
    )
    words = Words(unit=asked.unit, language=asked.language)
    return SoakingAnswer(
        minutes=found.minutes,
        least_minutes=found.least_minutes,
        most_minutes=found.most_minutes,
        time_constant_minutes=rounded(found.time_constant_minutes),
        biot_number=rounded(found.biot_number),
        uniform=found.uniform,
        mass_kg=rounded(found.mass_kg),
        remarks=tuple(said(each, words) for each in _of_soaking(found)),
        waited_ms=0.0,
    )


def contact(asked: ContactRequest, faults: Faults) -> ContactAnswer:
    """How far a ball is pressed in."""
    reader = LengthReader(faults)
    check_language(asked.language, faults)
    ball = reader.required(asked.ball_diameter, asked.unit, ("ball_diameter",))
    other = reader.optional(asked.other_diameter, asked.unit, ("other_diameter",), OPTIONAL)
    refuse_if_any(faults)
    found = ball_contact(
        asked.force_newtons,
        ball_diameter=ball,
        ball_material=asked.ball_material,
        other_material=asked.other_material,
        other_diameter=other,
        other_hollow=asked.other_hollow,
        ball_elasticity=Elasticity(
            youngs_modulus=asked.ball_youngs_modulus, poissons_ratio=asked.ball_poissons_ratio
        ),
        other_elasticity=Elasticity(
            youngs_modulus=asked.other_youngs_modulus, poissons_ratio=asked.other_poissons_ratio
        ),
    )
    words, small = Words(unit=asked.unit, language=asked.language), SMALL_UNIT[asked.unit]
    return ContactAnswer(
        small_unit=small,
        compression=to_text(found.compression, small),
        compression_limits=to_text(found.compression_limits, small),
        contact_radius=to_text(found.contact_radius, small),
        largest_pressure_gpa=rounded(found.largest_pressure_gpa),
        small_contact=found.small_contact,
        remarks=tuple(said(each, words) for each in _of_contact(found)),
        waited_ms=0.0,
    )


def drift(asked: DriftRequest, faults: Faults) -> DriftAnswer:
    """What a block changes a year."""
    reader = LengthReader(faults)
    small = SMALL_UNIT[asked.unit]
    nominal = reader.required(asked.nominal, asked.unit, ("nominal",))
    limit = reader.optional(asked.limit_deviation, small, ("limit_deviation",), OPTIONAL)
    points = [
        _calibrated(each, place, asked, reader, faults)
        for place, each in enumerate(asked.calibrations)
    ]
    refuse_if_any(faults)
    known = Limits(upper=limit, lower=-limit) if limit is not None else None
    if known is None and asked.grade is not None:
        known = limits(asked.grade, nominal, asked.unit)
    found = drift_of([each for each in points if each is not None], known)
    if found is None:
        detail = f"a drift needs calibrations on {FEWEST} days, with their uncertainties"
        raise InputError([Fault(pointer="/calibrations", detail=detail)])
    return DriftAnswer(
        small_unit=small,
        calibrations=found.calibrations,
        first_calibrated_on=found.first,
        last_calibrated_on=found.last,
        change_a_year=to_text(found.a_year, small),
        expanded_uncertainty=to_text(found.expanded_uncertainty, small),
        scatter=None if found.scatter is None else rounded(found.scatter),
        told_from_none=found.told_from_none,
        due_on=found.due_on,
        due_by_limits=found.by_limits,
        waited_ms=0.0,
    )


def _calibrated(
    each: CalibrationOfBlock, place: int, asked: DriftRequest, reader: LengthReader, faults: Faults
) -> Calibrated | None:
    at, small = ("calibrations", place), SMALL_UNIT[asked.unit]
    on = read_day(each.calibrated_on, (*at, "calibrated_on"), faults)
    due = read_day(each.due_on, (*at, "due_on"), faults)
    deviation = reader.optional(each.deviation, small, (*at, "deviation"), SIGNED)
    uncertainty = reader.required(each.expanded_uncertainty, small, (*at, "expanded_uncertainty"))
    if on is None or deviation is None:
        return None
    if due is not None and due < on:
        faults.meaningless(f"/calibrations/{place}/due_on", "lies before the day of calibration")
    return Calibrated(
        on=on,
        deviation=deviation,
        expanded_uncertainty=uncertainty,
        coverage_factor=each.coverage_factor,
        due_on=due,
    )


def _of_soaking(found: SoakingTime) -> Iterator[Phrase]:
    yield phrase("estimate.soaking")
    if not found.uniform:
        yield phrase("estimate.uneven")


def _of_contact(found: Contact) -> Iterator[Phrase]:
    yield phrase("estimate.contact", figure("limits", found.compression_limits, Measure.MARGIN))
    yield phrase("estimate.pressure")
    if not found.small_contact:
        yield phrase("estimate.wide_contact")
