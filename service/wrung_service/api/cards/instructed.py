"""A record with its instructions: worked out from the record alone, whatever was asked for then."""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Stack
from wrung.measures import TemperatureUnit
from wrung.metrology.conditions import REFERENCE_TEMPERATURE
from wrung.targets import AngleBlocksTarget
from wrung.targets.placing import conditions_of
from wrung.texts import in_degrees
from wrung_service.api.records.reading import RecordReader, recorded_stacks
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.records.writing import write_record
from wrung_service.api.stacks.answer import StackAnswer, StackHandwork
from wrung_service.api.stacks.writing import write_answer
from wrung_service.usecases.find_choices import Choices
from wrung_service.usecases.rebuilt import answer_without_claims
from wrung_service.usecases.solve_stacks import worked_out
from wrung_service.usecases.stack_query import StackQuery


class Instructed(Struct, frozen=True, kw_only=True):
    """The record with uncertainties, and its answer with what to do for each of its stacks.

    Attributes:
        temperatures: of each stack of the record, as its target has it, in the request's unit.
    """

    record: StackRecord
    answer: StackAnswer
    temperatures: tuple[str, ...]


def instructed(record: StackRecord, read: RecordReader) -> Instructed:
    """Works out what a card needs and a record may lack: the totals of budgets, and instructions.

    The hash stays that of the request as it was sent.

    Raises:
        Refusal, NotARecordError: it is not as this service writes records.
    """
    reading = read(record, handwork=True, budget="totals")
    lengths = tuple(t for t in reading.query.targets if not isinstance(t, AngleBlocksTarget))
    query = replace(reading.query, targets=lengths, preferences=(), alternatives=0, trade_off=False)
    stacks = recorded_stacks(record, query)
    solved = worked_out(answer_without_claims(query, stacks), query, Choices())
    again = write_record(reading, stacks, solved.judged, record.made_at)
    answer = write_answer(solved, replace(reading, query=query))
    return Instructed(
        record=replace(again, request=record.request, request_sha256=record.request_sha256),
        temperatures=tuple(_temperatures(stacks, query, record.temperature_unit)),
        answer=replace(answer, handwork=tuple(_with_cautions(answer.handwork or ()))),
    )


def _temperatures(
    stacks: Sequence[Stack], query: StackQuery, degrees: TemperatureUnit
) -> Iterator[str]:
    under = conditions_of(query.targets, query.conditions)
    for stack in stacks:
        celsius = REFERENCE_TEMPERATURE + under[stack.name].excess.estimate
        # Beyond these places a difference only comes from working in binary.
        yield in_degrees(Decimal(f"{celsius:.6f}"), degrees)


def _with_cautions(work: tuple[StackHandwork, ...]) -> Iterator[StackHandwork]:
    """Each with those of its series: only its first stack has them, but every card needs them."""
    first = {each.target: each.cautions for each in reversed(work) if each.cautions}
    for each in work:
        yield replace(each, cautions=each.cautions or first.get(each.target, ()))
