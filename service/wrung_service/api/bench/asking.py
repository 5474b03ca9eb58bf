"""From the question of a page to the body that a program would send to ``POST /v1/stacks``."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import msgspec
from msgspec import Struct

from wrung.blocks import Block
from wrung.lengths import parse, to_text
from wrung.texts import USUAL_DEGREES
from wrung_service.api.bench.entry import Entered, entered
from wrung_service.api.bench.members import has_one_stack, takes_wear_blocks
from wrung_service.api.bench.question import LOOSE, Question, Search, ShelfSet, TypedTarget
from wrung_service.api.bench.shelf import is_in, names_of
from wrung_service.api.bench.single_blocks import figures_of
from wrung_service.api.bench.typed_members import TypedMembers, typed_members
from wrung_service.api.crib.recording import write_block_on_shelf

_SEARCH_MS: Final[Mapping[Search, int]] = {"brief": 400, "usual": 2_000, "longer": 10_000}
"""Brief searches show what there is so far, before half a second is over."""
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


def search_ms(search: Search, most_ms: int) -> int:
    """How long that is, where an operator allows no more than ``most_ms``."""
    return min(_SEARCH_MS[search], most_ms)


def asked_by(
    question: Question, most_ms: int, *, more: bool = False, lying: Sequence[Block] = ()
) -> Asked:
    """What a page asks.

    Args:
        question: what stands in its address.
        most_ms: the longest search that the operator allows.
        more: to ask for the next best stacks, too, and for what one more block buys.
        lying: ask as if these blocks lay on the shelf, and no others, overdue or not.
    """
    limit_ms = search_ms(question.search, most_ms)
    targets = [*_targets(question)]
    body = None
    if targets:
        wanted = {**_body(question, targets), "time_limit_ms": limit_ms}
        if more:
            wanted |= _more(targets)
        if lying:
            del wanted["crib"]
            blocks = [write_block_on_shelf(each) for each in lying]
            wanted |= {"blocks": blocks, "allow_overdue": True}
        body = msgspec.json.encode(wanted)
    own = question.own
    return Asked(
        entry=entered(question.typed, question.unit),
        own=_members(own, question) if own.kind != "length" else None,
        body=body,
        limit_ms=limit_ms,
    )


def _body(question: Question, targets: list[dict[str, Any]]) -> dict[str, Any]:
    return {
        "unit": question.unit,
        "temperature_unit": USUAL_DEGREES[question.unit],
        **_shelf(question),
        "targets": targets,
        "timing": question.timing,
        "objective": question.objective,
        "language": question.language,
        "budget": "totals",
        **({"only": question.chosen} if question.chosen else {}),
    }


def _shelf(question: Question) -> dict[str, Any]:
    if question.site:
        of_crib = {"site": question.site, "sets": question.cases, "leave_out": question.gone}
        return {"crib": of_crib}
    gone = frozenset(question.gone)
    loose = [each for each in question.sets if each.composition in LOOSE]
    return {
        "sets": [_set(each, gone) for each in question.sets if each not in loose],
        "blocks": [block for each in loose for block in _single_blocks(each, gone)],
    }


def _more(targets: list[dict[str, Any]]) -> dict[str, Any]:
    """Next best stacks are for a single stack; blocks against error is for any."""
    single = len(targets) == 1 and has_one_stack(targets[0]["kind"])
    alternatives = {"alternatives": _ALTERNATIVES} if single else {}
    return {**alternatives, "trade_off": True}


def _set(each: ShelfSet, gone: frozenset[str]) -> dict[str, Any]:
    """One set, less the blocks of it that are not there."""
    wear = names_of(each)
    of_set = (name.rpartition("/") for name in gone if name not in wear)
    labels = [label.partition("#")[0] for of, _, label in of_set if of == each.id]
    missing = [label for label in labels if is_in(each.composition, label)]
    return {
        "id": each.id,
        "composition": each.composition,
        "grade": each.grade,
        "missing": sorted(missing),
        "wear_block_nominals": [text for name, text in wear.items() if name not in gone],
    }


def _single_blocks(each: ShelfSet, gone: frozenset[str]) -> Iterator[dict[str, Any]]:
    for (name, text), typed in zip(names_of(each).items(), each.lengths, strict=True):
        if name not in gone:
            block = {"id": name, "nominal": text, "grade": each.grade, "set": each.id}
            yield {**block, "unit": LOOSE[each.composition], **figures_of(typed)}


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
    target: dict[str, Any] = {"ref": typed.name, "kind": "length", "length": length}
    if entry.allowed:
        allowed = to_text(entry.allowed, question.unit)
        target["tolerance"] = {"lower": f"-{allowed}", "upper": allowed}
    return target if question.wear == "none" else {**target, "wear_blocks": question.wear}


def _of_a_kind(typed: TypedTarget, question: Question) -> dict[str, Any] | None:
    members = _members(typed, question)
    if not members.complete:
        return None
    target = {"ref": typed.name, "kind": typed.kind, **members.sent}
    carried = question.wear != "none" and takes_wear_blocks(typed.kind)
    return {**target, "wear_blocks": question.wear} if carried else target


def _members(typed: TypedTarget, question: Question) -> TypedMembers:
    return typed_members(typed.kind, dict(typed.members), question.unit)
