"""Makes a record again from its request and the ids of its blocks, and compares the two."""

from collections.abc import Iterator
from itertools import zip_longest
from typing import Any, Final, TypeAlias, cast

import msgspec
import rfc8785
from msgspec.structs import replace

import wrung
from wrung.blocks import Block
from wrung.checker.verify import verify
from wrung.errors import InputError
from wrung.metrology import sort_by_due
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.german import in_language
from wrung_service.api.metrology.calibration import read_day
from wrung_service.api.metrology.overdue import write_overdue
from wrung_service.api.problems import Refusal, refuse_if_any
from wrung_service.api.records.answer import RecordCheckAnswer, RecordFinding
from wrung_service.api.records.normal import request_hash
from wrung_service.api.records.reading import NotARecordError, RecordReader, recorded_stacks
from wrung_service.api.records.shape import StackRecord
from wrung_service.api.records.writing import write_record
from wrung_service.api.stacks.lengths import LengthReader
from wrung_service.api.stacks.reading import Clock, StackReading
from wrung_service.api.texts import unprintable
from wrung_service.api.wire_lengths import OPTIONAL
from wrung_service.settings import Limits
from wrung_service.usecases.judge_stacks import judge_stacks
from wrung_service.usecases.rebuilt import BESIDE_STACKS, answer_without_claims
from wrung_service.usecases.stack_query import StackQuery, options_of

Json: TypeAlias = Any
_Object: TypeAlias = dict[str, Any]

_MOST_FINDINGS: Final = 100
_WITHOUT_QUANTA: Final = {
    "tolerances": "its blocks do not add up to its length within its tolerance"
}
"""What the checker says of lengths is in the library's own unit, which nobody knows here."""
_NOT_COMPARED: Final = frozenset({"made_at", "version", "request_sha256"})
"""Members that nothing else in a record confirms, and the hash, which is of its own request."""


class RecordCheck:
    """Checks records; made once, as its decoder takes a moment."""

    def __init__(self, limits: Limits, clock: Clock) -> None:
        self._read, self._clock = RecordReader(limits), clock

    def __call__(self, record: StackRecord, language: str | None = None) -> RecordCheckAnswer:
        """Whether it holds; that it does not is no error.

        Findings are in the language, or else in that of the record's request.

        Raises:
            Refusal: 400, it breaks the schema where a decoder does not see it.
        """
        _check_texts(record)
        matches = _hashed(record) == record.request_sha256
        language = language or _language_of(record)
        findings: list[RecordFinding] = []
        if not matches:
            detail = "is not the hash of the request beside it"
            findings.append(RecordFinding(pointer="/request_sha256", detail=detail))
        used: list[Block] = []
        try:
            reading = self._read(record)
            broken = [*_broken_rules(record, reading, language)]
            findings += _differences(record, _again(record, reading))
            used = _used(record, reading.query)
        except (Refusal, InputError, NotARecordError) as error:
            broken = []
            findings += [RecordFinding(pointer="/request", detail=each) for each in _reasons(error)]
        said = [*broken, *(_in_language(each, language) for each in findings)]
        due = sort_by_due(used, self._clock().date())
        return RecordCheckAnswer(
            holds=not said,
            hash_matches=matches,
            findings=tuple(said[:_MOST_FINDINGS]),
            overdue_blocks=write_overdue(due.left_out),
            version=wrung.__version__,
        )


def _language_of(record: StackRecord) -> str:
    stated = record.request.get("language")
    return stated if isinstance(stated, str) else "en"


def _in_language(finding: RecordFinding, language: str) -> RecordFinding:
    return replace(finding, detail=in_language(finding.detail, language))


def _check_texts(record: StackRecord) -> None:
    """What the decoder does not see: a day that does not exist, a text that is no length."""
    faults, at = Faults(), ("record", "conditions")
    allowance = record.conditions.joint_uncertainty
    LengthReader(faults).optional(
        allowance, record.small_unit, (*at, "joint_uncertainty"), OPTIONAL
    )
    read_day(record.conditions.used_on, (*at, "used_on"), faults)
    for place, target in enumerate(record.targets):
        for name, detail in unprintable(target.labels):
            faults.invalid(("record", "targets", place, "labels", name), detail)
    refuse_if_any(faults)


def _hashed(record: StackRecord) -> str | None:
    try:
        return request_hash(record.request)
    except rfc8785.CanonicalizationError:
        return None


def _reasons(error: Exception) -> list[str]:
    faults = [fault.detail for fault in getattr(error, "errors", ())]
    return faults[:3] or [str(error) or "cannot be read"]


def _again(record: StackRecord, reading: StackReading) -> StackRecord:
    stacks = recorded_stacks(record, reading.query)
    return write_record(reading, stacks, judge_stacks(stacks, reading.query), record.made_at)


def _broken_rules(
    record: StackRecord, reading: StackReading, language: str
) -> Iterator[RecordFinding]:
    """What the independent checker finds wrong with the stacks: blocks used twice, tolerances."""
    query = reading.query
    answer = answer_without_claims(query, recorded_stacks(record, query))
    lengths = [target for target in query.targets if target.requirements()]
    for breach in verify(query.blocks, lengths, answer, **options_of(query)):
        # What an answer claims beside its stacks, and what it compared, is not in a record.
        if not breach.claim and breach.rule not in BESIDE_STACKS:
            detail = in_language(_WITHOUT_QUANTA.get(breach.rule, breach.detail), language)
            said = detail if breach.name is None else f"{breach.name}: {detail}"
            yield RecordFinding(pointer="/stacks", detail=said)


def _differences(record: StackRecord, again: StackRecord) -> list[RecordFinding]:
    one, other = (msgspec.json.decode(msgspec.json.encode(each)) for each in (record, again))
    kept = {name: value for name, value in one.items() if name not in _NOT_COMPARED}
    found = {name: other[name] for name in kept}
    # A member that the version of the record did not have yet was read as its default.
    found["request"] = _as_far_as(kept["request"], found["request"])
    return list(_compared(kept, found, ()))


def _as_far_as(one: Json, other: Json) -> Json:
    """The other one without the members that the first one lacks."""
    if isinstance(one, dict) and isinstance(other, dict):
        known, others = cast("_Object", one), cast("_Object", other)
        return {name: _as_far_as(known[name], others[name]) for name in known if name in others}
    if isinstance(one, list) and isinstance(other, list):
        return [_as_far_as(*pair) for pair in zip_longest(one, other)]  # pyright: ignore[reportUnknownVariableType, reportUnknownArgumentType] -- any JSON
    return other  # pyright: ignore[reportUnknownVariableType] -- any JSON


def _compared(one: Json, other: Json, at: Path) -> Iterator[RecordFinding]:
    if isinstance(one, dict) and isinstance(other, dict):
        yield from _compared_members(cast("_Object", one), cast("_Object", other), at)
    elif isinstance(one, list) and isinstance(other, list):
        yield from _compared_elements(one, other, at)  # pyright: ignore[reportUnknownArgumentType] -- any JSON
    elif one != other:
        detail = f"says {_short(one)}, and comes to {_short(other)}"
        yield RecordFinding(pointer=pointer(at), detail=detail)


def _short(value: Json) -> str:
    text = value if isinstance(value, str) else msgspec.json.encode(value).decode()
    return repr(text[:60])


def _compared_members(one: _Object, other: _Object, at: Path) -> Iterator[RecordFinding]:
    for name in sorted(one.keys() | other.keys()):
        yield from _compared(one.get(name), other.get(name), (*at, name))


def _compared_elements(one: list[Json], other: list[Json], at: Path) -> Iterator[RecordFinding]:
    if len(one) != len(other):
        detail = f"has {len(one)} elements, and comes to {len(other)}"
        yield RecordFinding(pointer=pointer(at), detail=detail)
        return
    for place, (each, again) in enumerate(zip(one, other, strict=True)):
        yield from _compared(each, again, (*at, place))


def _used(record: StackRecord, query: StackQuery) -> list[Block]:
    ids = {block.id for stack in record.stacks for block in stack.blocks}
    return [block for block in query.blocks if block.id in ids]
