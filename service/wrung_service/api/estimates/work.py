"""From the bodies of estimates to their answers."""

from collections.abc import Iterator

from wrung.degrees import to_kelvin
from wrung.errors import InputError
from wrung.lengths import SMALL_UNIT, to_text
from wrung.measures import Measure
from wrung.metrology.contact import Contact, ball_contact
from wrung.metrology.soaking_time import SoakingTime, soaking_time
from wrung.texts import Phrase, figure, phrase
from wrung_service.api.decoding import BodyDecoder
from wrung_service.api.estimates.shapes import (
    ContactAnswer,
    ContactRequest,
    SoakingAnswer,
    SoakingRequest,
)
from wrung_service.api.faults import Faults
from wrung_service.api.metrology.figures import rounded
from wrung_service.api.problems import refuse_if_any
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.wire_lengths import OPTIONAL
from wrung_service.api.words import Words, check_language, said
from wrung_service.pool import Turn
from wrung_service.settings import Limits


class SoakingWork:
    """Reads, estimates and writes; made once, as its decoder takes a moment."""

    def __init__(self, limits: Limits) -> None:
        self._decoder = BodyDecoder(SoakingRequest, {}, limits.max_body_bytes)

    def __call__(self, body: bytes, turn: Turn) -> SoakingAnswer:
        """The answer to a body.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        asked = self._decoder.decode(body)
        faults = Faults()
        reader = LengthReader(faults)
        check_language(asked.language, faults)
        width = reader.required(asked.width, asked.unit, ("width",))
        height = reader.required(asked.height, asked.unit, ("height",))
        length = reader.optional(asked.length, asked.unit, ("length",), OPTIONAL)
        refuse_if_any(faults)
        try:
            found = soaking_time(
                asked.material,
                width=width,
                height=height,
                length=length,
                mass_kg=asked.mass_kg,
                difference=to_kelvin(asked.difference, asked.temperature_unit),
                remaining=to_kelvin(asked.remaining, asked.temperature_unit),
            )
        except InputError as error:
            _note(error, faults)
            refuse_if_any(faults)
            raise
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
            waited_ms=round(turn.waited_ms, 1),
        )


class ContactWork:
    """Reads, estimates and writes; made once, as its decoder takes a moment."""

    def __init__(self, limits: Limits) -> None:
        self._decoder = BodyDecoder(ContactRequest, {}, limits.max_body_bytes)

    def __call__(self, body: bytes, turn: Turn) -> ContactAnswer:
        """The answer to a body.

        Raises:
            Refusal: with everything that is wrong with it.
        """
        asked = self._decoder.decode(body)
        faults = Faults()
        reader = LengthReader(faults)
        check_language(asked.language, faults)
        ball = reader.required(asked.ball_diameter, asked.unit, ("ball_diameter",))
        other = reader.optional(asked.other_diameter, asked.unit, ("other_diameter",), OPTIONAL)
        refuse_if_any(faults)
        try:
            found = ball_contact(
                asked.force_newtons,
                ball_diameter=ball,
                ball_material=asked.ball_material,
                other_material=asked.other_material,
                other_diameter=other,
                other_hollow=asked.other_hollow,
            )
        except InputError as error:
            _note(error, faults)
            refuse_if_any(faults)
            raise
        words = Words(unit=asked.unit, language=asked.language)
        return ContactAnswer(
            small_unit=SMALL_UNIT[asked.unit],
            compression=to_text(found.compression, SMALL_UNIT[asked.unit]),
            compression_limits=to_text(found.compression_limits, SMALL_UNIT[asked.unit]),
            contact_radius=to_text(found.contact_radius, SMALL_UNIT[asked.unit]),
            largest_pressure_gpa=rounded(found.largest_pressure_gpa),
            small_contact=found.small_contact,
            remarks=tuple(said(each, words) for each in _of_contact(found)),
            waited_ms=round(turn.waited_ms, 1),
        )


def _note(error: InputError, faults: Faults) -> None:
    for fault in error.faults:
        faults.meaningless(fault.pointer, fault.detail)


def _of_soaking(found: SoakingTime) -> Iterator[Phrase]:
    yield phrase("estimate.soaking")
    if not found.uniform:
        yield phrase("estimate.uneven")


def _of_contact(found: Contact) -> Iterator[Phrase]:
    yield phrase("estimate.contact", figure("limits", found.compression_limits, Measure.MARGIN))
    yield phrase("estimate.pressure")
    if not found.small_contact:
        yield phrase("estimate.wide_contact")
