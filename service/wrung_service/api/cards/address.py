"""The address of the page for people that asks what a record asked, if a page can ask it."""

from collections.abc import Iterator, Mapping
from typing import Any, Final, TypeAlias, cast

from wrung_service.api.bench.asking import asked_by
from wrung_service.api.bench.question import Question, ShelfSet, TypedTarget
from wrung_service.api.cards.codes import LARGEST_WITHOUT_CRIB
from wrung_service.api.cards.printing import NOWHERE, Address
from wrung_service.api.problems import Refusal
from wrung_service.api.records.normal import normal_request
from wrung_service.api.records.reading import RecordReader
from wrung_service.api.records.shape import StackRecord

Json: TypeAlias = Any
_BESIDE: Final = frozenset({"budget", "handwork", "record", "temperature_unit", "time_limit_ms"})
"""Members that change nothing of what is built: the lengths of a page have no temperature."""


def page_address(record: StackRecord, public_url: str, read: RecordReader) -> Address:
    """Of the page, with this question in it; nowhere if the page would ask anything else."""
    if not public_url:
        return NOWHERE
    question = _question(record.request)
    if question is None or not _asks(question, record, read):
        return NOWHERE
    text = f"{public_url}/?{question.address()}"
    return Address(text=text, largest_code=LARGEST_WITHOUT_CRIB)


def _question(request: Mapping[str, Json]) -> Question | None:
    """What a page would have to ask, as far as it can be said there."""
    targets = [*_targets(request["targets"])]
    if len(targets) != len(request["targets"]) or not all(s["grade"] for s in request["sets"]):
        return None
    wear = request["targets"][0].get("wear_blocks", "none")
    *kept, last = targets
    is_next = last.name == str(10 * len(targets))
    return Question(
        unit=request["unit"],
        language=request["language"],
        typed=last.members[0][1] if is_next else "",
        sets=tuple(map(_set, request["sets"])),
        gone=tuple(f"{s['id']}/{label}" for s in request["sets"] for label in s["missing"]),
        wear=wear,
        kept=tuple(kept if is_next else targets),
        timing=request["timing"],
        objective=request["objective"],
    )


def _targets(targets: list[dict[str, Json]]) -> Iterator[TypedTarget]:
    for each in targets:
        if each["kind"] == "length":
            typed = each["length"] + _allowed(each["tolerance"])
            yield TypedTarget(name=each["ref"], kind="length", members=(("want", typed),))


def _allowed(tolerance: Mapping[str, Json]) -> str:
    """As it is typed; where it is not the same on both sides, the page would ask for another."""
    upper: str = tolerance["upper"]
    return "" if upper == "0" else f" ±{upper}"


def _set(each: Mapping[str, Json]) -> ShelfSet:
    wear = tuple(each["wear_block_nominals"])
    return ShelfSet(
        id=each["id"], composition=each["composition"], grade=each["grade"], lengths=wear
    )


def _asks(question: Question, record: StackRecord, read: RecordReader) -> bool:
    """Whether the page asks the same to the letter, but for what it says of the answer."""
    # No operator forbids so short a search, and none is made.
    body = asked_by(question, most_ms=1).body
    if body is None:
        return False
    try:
        asked = read.request(body, record.made_at)
    except Refusal:
        return False
    return _essence(normal_request(asked)) == _essence(record.request)


def _essence(request: Mapping[str, Json]) -> dict[str, Json]:
    members = {name: value for name, value in request.items() if name not in _BESIDE}
    # The order of what is missing means nothing.
    sets: list[dict[str, Json]] = request["sets"]
    members["sets"] = [{**each, "missing": sorted(each["missing"])} for each in sets]
    conditions = cast("dict[str, Json] | None", members.get("conditions")) or {}
    return {**members, "conditions": {k: v for k, v in conditions.items() if v is not None}}
