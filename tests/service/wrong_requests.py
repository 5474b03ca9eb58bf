"""Requests for stacks with one thing wrong each: every member of every kind of target and option.

Each member is once left out, once of each wrong type, and once of values that make no sense; in a
shelf of a single small set, so that reading them costs little. Some of them are right after all.
"""

from collections.abc import Iterator
from typing import Any, Final, cast

from service.every_answer import asked

Json = dict[str, Any]

_WRONG: Final[tuple[Any, ...]] = (
    *("-1", "0", "1,5", "none", "0.0000000001", "999999", "1°75'"),
    *(None, 0, 1.5, True, [], {"x": 1}),
)
_SHELF: Final[Json] = {
    "sets": [{"id": "S", "composition": "caliper-3", "grade": "1"}],
    "blocks": [{"id": "own", "nominal": "12", "deviation": "0.1", "expanded_uncertainty": "0.1"}],
}
_OPTIONS: Final[Json] = {
    "conditions": {
        "temperature": {"value": 21, "limits": 1},
        "part": {"expansion": {"value": 23}, "temperature_difference": {"value": 1}},
        "extras": [{"name": "a", "estimate": "0.1", "standard_uncertainty": "0.1"}],
        "joint_uncertainty": "0.01",
        "used_on": "2026-03-01",
    },
    "part_tolerances": [
        {"target": "a", "lower": "1", "upper": "1.1", "required_ratio": 4, "guard": "multiple",
         "guard_multiple": 1, "measured": "1.05", "comparison_uncertainty": "0.1"}
    ],
    "error_measure": {"kind": "variance", "corrected": True},
    "preferences": [{"goal": "prefer_set", "set": "S"}],
    "exclude": ["own"],
    "only": ["own"],
}  # fmt: skip
_PLAIN: Final[Json] = {"ref": "a", "kind": "length", "length": "12"}


def wrong_requests() -> Iterator[Json]:
    """All of them."""
    plain = {"unit": "mm", **_SHELF, "targets": [_PLAIN]}
    for changed in _changes({**plain, **_OPTIONS}):
        yield changed if isinstance(changed, dict) else {}
    for target, news in _targets():
        known = {name: target[name] for name in target if name not in news}
        for each in _changes({name: target[name] for name in news}):
            sent = {**known, **cast("Json", each)} if isinstance(each, dict) else each
            yield {**plain, "targets": [sent, _PLAIN]}


def _targets() -> Iterator[tuple[Json, list[str]]]:
    """Targets of every kind, each with those of its members that none before it had."""
    seen: set[tuple[str, str]] = set()
    for _, path, body in (*asked("mm"), *asked("in")):
        for target in body["targets"] if path == "/v1/stacks" else ():
            news = [name for name in target if (target["kind"], name) not in seen]
            seen |= {(target["kind"], name) for name in news}
            if news:
                yield target, news


def _changes(value: object) -> Iterator[Any]:
    """The same with one member wrong, left out, or one more."""
    yield from _WRONG
    if isinstance(value, dict):
        members = cast("Json", value)
        yield {**members, "unknown": 1}
        for name, inner in members.items():
            yield {each: other for each, other in members.items() if each != name}
            yield from ({**members, name: changed} for changed in _changes(inner))
    elements = [*cast("tuple[Any, ...]", value)] if isinstance(value, list | tuple) else []
    if elements:
        yield from ([changed, *elements[1:]] for changed in _changes(elements[0]))
