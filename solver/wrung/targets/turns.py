"""Targets that are needed one after another, as the operations of a traveller mostly are."""

from collections.abc import Iterator, Sequence
from typing import Literal, TypeAlias, TypeVar

from msgspec.structs import replace

from wrung.checked_types import typed
from wrung.errors import Fault, require
from wrung.targets.base import TimedTarget
from wrung.targets.placing import Placed
from wrung.targets.requirement import Requirement

Timing: TypeAlias = Literal["together", "in_turn"]
"""``together`` all targets are needed at one time, ``in_turn`` one after another."""

AnyTimed = TypeVar("AnyTimed", bound=TimedTarget)


@typed
def in_turn(targets: Sequence[AnyTimed]) -> tuple[AnyTimed, ...]:
    """The same targets, to be needed one after another in this order.

    Each has the whole shelf to itself. Targets that name the same ``setup`` and follow one another
    are one step: they are needed together.

    Raises:
        InputError: a target has a time of its own, or its set-up was left before; pointers are
            into ``/targets``.
    """
    require(*_time_faults(targets), *_setup_faults(targets))
    steps = _steps(targets)
    return tuple(replace(t, place=step) for t, step in zip(targets, steps, strict=True))


def turn_faults(placed: Sequence[Placed]) -> Iterator[Fault]:
    """What is wrong with the turns of stacks, each fault with the pointer of its target."""
    alone: dict[tuple[int, ...], str] = {}
    for each in placed:
        turn, requirement = each.requirement.turn, each.requirement
        if turn is None or turn.of is not None:
            continue
        if requirement.needed_from is not None or requirement.needed_until is not None:
            yield Fault(pointer=each.pointer, detail=_TIMES)
        # Stacks that follow one another within a step leave it to their target alone.
        before = alone.setdefault(turn.step[:1], each.pointer)
        if before != each.pointer and _has_points(placed, turn.step[0]):
            yield Fault(pointer=f"{each.pointer}/setup", detail=_POINTS)


_TIMES = "has a time of its own, and in turn the order sent says when it is needed"
_LEFT = "the set-up {!r} was left before: send its targets one after another"
_POINTS = "check points follow one another, so that nothing stands beside them: give them no set-up"


def _has_points(placed: Sequence[Placed], step: int) -> bool:
    turns = (each.requirement.turn for each in placed)
    return any(t.of is None and t.step[0] == step and len(t.step) > 1 for t in turns if t)


def _time_faults(targets: Sequence[TimedTarget]) -> Iterator[Fault]:
    for index, target in enumerate(targets):
        for member in ("needed_from", "needed_until"):
            if getattr(target, member) is not None:
                yield Fault(pointer=f"/targets/{index}/{member}", detail=_TIMES)


def _setup_faults(targets: Sequence[TimedTarget]) -> Iterator[Fault]:
    seen: set[str] = set()
    before: str | None = None
    for index, target in enumerate(targets):
        if target.setup is not None and target.setup != before:
            if target.setup in seen:
                detail = _LEFT.format(target.setup)
                yield Fault(pointer=f"/targets/{index}/setup", detail=detail)
            seen.add(target.setup)
        before = target.setup


def _steps(targets: Sequence[TimedTarget]) -> Iterator[int]:
    step, before = -1, None
    for target in targets:
        if target.setup is None or target.setup != before:
            step += 1
        before = target.setup
        yield step


def groups(wanted: Sequence[Requirement]) -> tuple[tuple[int, ...], ...]:
    """What would be a step each, if all were needed in turn: stacks of one target or set-up."""
    found: dict[tuple[bool, str], list[int]] = {}
    for index, each in enumerate(wanted):
        # A set-up may be called like a target, so the key says which it is.
        key = (True, each.setup) if each.setup is not None else (False, each.target)
        found.setdefault(key, []).append(index)
    return tuple(map(tuple, found.values()))
