"""What was typed into the form of a kind, as its members are sent."""

import re
from collections.abc import Iterator, Mapping
from typing import Any, Final, cast

from msgspec import Struct

from wrung.lengths import Unit, parse, to_text
from wrung_service.api.bench.entry import entered
from wrung_service.api.bench.members import Member, members_of
from wrung_service.api.kinds.shapes import Value

_FIGURE: Final = re.compile(r"[+-]?(?:\d{1,6}(?:[.,]\d{0,9})?|[.,]\d{1,9})")
_BETWEEN: Final = re.compile(r"\s*;\s*|\s+(?![\d]+/)")
"""Between several values: a gap or a semicolon, but not the gap of 1 3/8."""


class TypedMembers(Struct, frozen=True, kw_only=True):
    """A target of a kind, as far as it was typed.

    Attributes:
        sent: the members that were understood, as ``POST /v1/stacks`` takes them.
        missing: required members that are not there yet.
        faults: by member, the key of a sentence on what was typed.
        begun: whether anything was typed; a form that was only opened is no fault of anybody.
    """

    sent: dict[str, Any]
    missing: tuple[str, ...]
    faults: Mapping[str, str]
    begun: bool

    @property
    def complete(self) -> bool:
        """Whether it can be asked for."""
        return self.begun and not (self.missing or self.faults)


class _NotReadError(Exception):
    """A text that is no value of its member; its argument is the key of a sentence."""


def typed_members(kind: str, typed: Mapping[str, str], unit: Unit) -> TypedMembers:
    """What was understood of the texts in a form."""
    sent: dict[str, Any] = {}
    missing: list[str] = []
    faults: dict[str, str] = {}
    for member in _present(kind, typed):
        text = typed.get(member.name, "").strip() or member.default
        if not text:
            missing += [member.name] if member.required else []
            continue
        try:
            _put(sent, member.name.split("."), _value(member, text, unit))
        except _NotReadError as error:
            faults[member.name] = str(error)
    return TypedMembers(
        sent=_listed(sent),
        missing=tuple(missing),
        faults=faults,
        begun=any(True for _ in _filled(kind, typed)),
    )


def _present(kind: str, typed: Mapping[str, str]) -> Iterator[Member]:
    """The members, without those of parts that nothing was typed of."""
    there = {member.part for member in _filled(kind, typed)}
    return (each for each in members_of(kind) if not each.part or each.part in there)


def _filled(kind: str, typed: Mapping[str, str]) -> Iterator[Member]:
    # A choice that starts at its default is sent by every form, whether it was meant or not.
    return (m for m in members_of(kind) if not m.default and typed.get(m.name, "").strip())


def _value(member: Member, text: str, unit: Unit) -> Value:
    if member.many:
        return [_one(member, each, unit) for each in _BETWEEN.split(text) if each]
    return _one(member, text, unit)


def _one(member: Member, text: str, unit: Unit) -> Value:
    if member.how == "length":
        return _length(text, unit)
    if member.how == "angle":
        return _angle(text)
    if member.how == "figure":
        return _figure(text)
    if member.how == "whole":
        if not text.isdecimal():
            raise _NotReadError("not_whole")
        return int(text[:6])
    if member.how == "choice" and text not in member.choices:
        raise _NotReadError("no_choice")
    return True if member.how == "flag" else text


def _length(text: str, unit: Unit) -> str:
    """In the unit of the page; a sign may stand before it where the member has one."""
    sign = "-" if text.startswith(("-", "\N{MINUS SIGN}")) else ""
    entry = entered(text[len(sign) :], unit)
    if entry.state == "length" and not entry.allowed:
        return sign + to_text(parse(entry.text, entry.unit), unit)
    if re.fullmatch(r"[0.,]*0[0.,]*", text):
        return "0"
    raise _NotReadError(_fault(entry.state, entry.fault))


def _angle(text: str) -> str:
    entry = entered(text, "mm")
    if entry.state in ("angle", "length") and not entry.allowed:
        return entry.text
    raise _NotReadError("angle" if entry.fault in ("", "not_read") else entry.fault)


def _figure(text: str) -> str:
    plain = text.replace("\N{MINUS SIGN}", "-")
    if not _FIGURE.fullmatch(plain):
        raise _NotReadError("not_figure")
    sign = "-" if plain.startswith("-") else ""
    whole, _, rest = plain.lstrip("+-").replace(",", ".").partition(".")
    return f"{sign}{whole or '0'}.{rest or '0'}"


def _fault(state: str, fault: str) -> str:
    return fault or ("is_angle" if state == "angle" else "not_read")


def _put(sent: dict[str, Any], path: list[str], value: Value) -> None:
    for step in path[:-1]:
        sent = sent.setdefault(step, {})
    sent[path[-1]] = value


def _listed(sent: dict[str, Any]) -> dict[str, Any]:
    """With a list in the place of what has numbers for names."""
    return {name: _nested(value) for name, value in sent.items()}


def _nested(value: Value) -> Value:
    if not isinstance(value, dict):
        return value
    members = cast("dict[str, Any]", value)
    if all(name.isdigit() for name in members):
        return [_listed(each) for _, each in sorted(members.items())]
    return _listed(members)
