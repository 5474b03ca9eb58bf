"""From the question of a page to the body that a program would send to ``POST /v1/stacks``."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any, Final

import msgspec
from msgspec import Struct

from wrung.lengths import parse, to_text
from wrung_service.api.bench.entry import Entered, entered
from wrung_service.api.bench.members import has_one_stack, takes_wear_blocks
from wrung_service.api.bench.question import Question, ShelfSet, TypedTarget
from wrung_service.api.bench.typed_members import TypedMembers, typed_members

_USUAL_MS: Final = 2_000
_LONGER_MS: Final = 10_000
_ALTERNATIVES: Final = 2


class Asked(Struct, frozen=True, kw_only=True):
    """What was understood, and the body to ask with; None if there is no question.

    Attributes:
        entry: the field for a length.
        own: the form of a kind, where the target being typed is of one.
    """

    entry: Entered
    own: TypedMembers | None
    body: bytes | None
    limit_ms: int


def asked_by(question: Question, *, more: bool = False) -> Asked:
    """What a page asks; ``more`` asks for the next best stacks and for what one more block buys."""
    targets = [*_targets(question)]
    body = None
    if targets:
        wanted = _body(question, targets)
        if more:
            wanted |= _more(targets)
        body = msgspec.json.encode(wanted)
    own = question.own
    return Asked(
        entry=entered(question.typed, question.unit),
        own=_members(own, question) if own.kind != "length" else None,
        body=body,
        limit_ms=_LONGER_MS if question.longer else _USUAL_MS,
    )


def _body(question: Question, targets: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "unit": question.unit,
        "sets": [_set(each, question.gone) for each in question.sets],
        "targets": targets,
        "timing": question.timing,
        "objective": question.objective,
        "language": question.language,
        "budget": "totals",
        "time_limit_ms": _LONGER_MS if question.longer else _USUAL_MS,
        **({"only": question.chosen} if question.chosen else {}),
    }


def _more(targets: list[dict[str, Any]]) -> dict[str, Any]:
    """Next best stacks are for a single stack; blocks against error is for any."""
    single = len(targets) == 1 and has_one_stack(targets[0]["kind"])
    alternatives = {"alternatives": _ALTERNATIVES} if single else {}
    return {**alternatives, "trade_off": True}


def _set(each: ShelfSet, gone: tuple[str, ...]) -> dict[str, Any]:
    """One set, less the blocks of it that are not there."""
    missing: dict[str, list[str]] = defaultdict(list)
    for name in gone:
        set_id, _, label = name.rpartition("/")
        missing[set_id].append(label.partition("#")[0])
    return {
        "id": each.id,
        "composition": each.composition,
        "grade": each.grade,
        "missing": missing[each.id],
        "wear_block_nominals": [*each.wear],
    }


def _targets(question: Question) -> Iterator[dict[str, Any]]:
    for typed in (*question.kept, question.own):
        target = _target(typed, question)
        if target is not None:
            yield target


def _target(typed: TypedTarget, question: Question) -> dict[str, Any] | None:
    """As it is sent; None as long as it is no target."""
    if typed.kind != "length":
        return _of_a_kind(typed, question)
    entry = entered(dict(typed.members).get("want", ""), question.unit)
    if entry.state != "length":
        return None
    length = to_text(parse(entry.text, entry.unit), question.unit)
    target = {"ref": typed.name, "kind": "length", "length": length}
    return target if question.wear == "none" else {**target, "wear_blocks": question.wear}


def _of_a_kind(typed: TypedTarget, question: Question) -> dict[str, Any] | None:
    members = _members(typed, question)
    if not members.complete or not members.sent:
        return None
    target = {"ref": typed.name, "kind": typed.kind, **members.sent}
    carried = question.wear != "none" and takes_wear_blocks(typed.kind)
    return {**target, "wear_blocks": question.wear} if carried else target


def _members(typed: TypedTarget, question: Question) -> TypedMembers:
    return typed_members(typed.kind, dict(typed.members), question.unit)
