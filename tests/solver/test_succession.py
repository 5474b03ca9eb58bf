"""Stacks that follow one another change as few blocks as can be, and give up nothing for it."""

import os
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec import Struct
from msgspec.structs import replace

from solver import oracle
from wrung import Answer, Block, GaugeSet, LengthTarget, Objective, Requirement, mm, solve, um, verify
from wrung.handwork.changes import changes
from wrung.planning.deadline import Cancel, Deadline
from wrung.planning.finding import totals
from wrung.planning.problem import build_problem
from wrung.planning.succession.counting import changed_blocks
from wrung.planning.succession.least_changes import least_changes
from wrung.targets import CheckPointsTarget, Target
from wrung.testing import Request, make_blocks, requests

CASES: Final = int(os.environ.get("WRUNG_SUCCESSION_CASES", "150"))
AMPLE_MS: Final = 60_000


class InTurn(Struct, frozen=True, kw_only=True):
    """Stacks one after another."""

    ref: str
    parts: tuple[Requirement, ...]

    def requirements(self) -> tuple[Requirement, ...]:
        return tuple(replace(part, sequence=self.ref) for part in self.parts)


def in_turn(targets: Sequence[LengthTarget], ref: str, *, same_time: bool) -> InTurn:
    """Those targets as one sequence, at the times of the first, or each at its own."""
    parts = [part for target in targets for part in target.requirements()]
    if same_time:
        first = parts[0]
        times = {"needed_from": first.needed_from, "needed_until": first.needed_until}
        parts = [replace(part, **times) for part in parts]
    return InTurn(ref=ref, parts=tuple(parts))


@st.composite
def sequences(draw: st.DrawFn) -> tuple[Request, tuple[Target, ...]]:
    """A request, and its targets with some of them in one or two sequences."""
    request = draw(requests(max_blocks=8, max_targets=4))
    split = draw(st.integers(1, len(request.targets)))
    same_time = draw(st.sampled_from((True, True, True, False)))
    turns: list[Target] = [in_turn(request.targets[:split], "s", same_time=same_time)]
    rest = request.targets[split:]
    if len(rest) > 1 and draw(st.booleans()):
        return request, (*turns, in_turn(rest, "r", same_time=same_time))
    return request, (*turns, *rest)


def answer_of(request: Request, targets: Sequence[Target]) -> Answer:
    return solve(
        request.blocks,
        targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        time_limit_ms=AMPLE_MS,
    )


def usable(request: Request) -> list[Block]:
    return [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]


@settings(max_examples=CASES)
@given(sequences())
def test_no_plan_that_is_as_good_changes_fewer(drawn: tuple[Request, tuple[Target, ...]]) -> None:
    """Against the exhaustive search: totals first, then the changes between served stacks."""
    request, targets = drawn
    answer = answer_of(request, targets)
    required = [each for target in targets for each in target.requirements()]
    options = {"objective": request.objective, "joint_allowance": request.joint_allowance}
    found = oracle.best(usable(request), required, **options)

    assert answer.objective_proven
    assert len(answer.stacks) == found.served
    assert answer.total_blocks == found.total_blocks
    assert answer.largest_worst_case_error == found.largest_error
    assert answer.total_worst_case_error == found.total_error
    if answer.changes is not None:
        served = [stack.ref for stack in answer.stacks]
        least = oracle.least_changes(usable(request), required, served, **options)
        assert answer.changes.blocks == least
        assert answer.changes.proven
