"""A search holds no more than its budget, does with less where it must, and says what it found."""

from random import Random
from typing import Final

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung import Block, Objective, alternatives, inch, solve, trade_off, uin, verify
from wrung.deadline import Deadline
from wrung.errors import InputError
from wrung.memory import MEGABYTE, Memory
from wrung.order import Order
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.supply import Tables
from wrung.planning.candidates.tables import table_bytes
from wrung.planning.candidates.workbench import Workbench, set_up
from wrung.planning.execution import answered
from wrung.planning.problem import build_problem
from wrung.targets import CheckPointsTarget, Target
from wrung.testing import Request, make_blocks, make_targets, requests

AMPLE_MS: Final = 60_000


class Held:
    """Something whose bytes are counted."""


def bench(memory: Memory) -> Workbench:
    problem = build_problem(
        Order(
            blocks=make_blocks("1.001 1.002 1.01 1.5 2 4"),
            targets=make_targets("3.5 5.011"),
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    found = set_up(problem, by_error(problem), Deadline(AMPLE_MS, None, memory))
    assert found is not None
    return found


def crowded(points: int) -> tuple[list[Block], list[Target]]:
    """Certified blocks of three sets, and an instrument with so many points."""
    random = Random(7)  # noqa: S311 - the same each time, nothing secret
    steps = (*range(1_001, 1_010), *range(1_010, 1_500, 10), *range(500, 10_000, 500))
    blocks = [
        Block(
            id=f"{copy}/{step}",
            nominal=step * inch("0.0001"),
            deviation=random.randint(-40, 40) * uin("0.1"),
            expanded_uncertainty=uin("2"),
            unit="in",
        )
        for copy in range(3)
        for step in steps
    ]
    lengths = tuple(random.randrange(3_000, 20_000) * inch("0.0001") for _ in range(points))
    return blocks, [CheckPointsTarget(ref="m", points=lengths)]


def test_bytes_are_counted_for_as_long_as_their_owner_lives() -> None:
    memory, owner = Memory(1), Held()

    assert memory.hold(owner, 600_000, "key") is memory.alive("key")
    assert not memory.room(500_000)

    del owner
    assert memory.room(500_000)
    assert memory.alive("key") is None
    assert memory.peak == 600_000


def test_what_can_be_made_again_gives_way() -> None:
    memory = Memory(1)
    shelf, other = memory.shelf(), memory.shelf()
    for key in range(3):
        shelf.keep(key, memory.hold(Held(), 300_000))

    assert memory.room(400_000)
    assert memory.left == 400_000

    other.keep("own", memory.hold(Held(), 400_000))
    del shelf
    assert memory.left == 600_000


def test_a_table_is_held_once_and_one_without_room_is_cut() -> None:
    whole = bench(Memory())
    costs = np.ones((1, len(whole.layout.kinds)), np.int64)
    size = table_bytes(whole.layout, costs, whole.reach)
    memory = Memory(2.5 * size / MEGABYTE)
    tables = Tables(whole.layout, whole.reach, Deadline(AMPLE_MS, None, memory))

    first = tables.of(costs, lasting=False)
    assert tables.of(costs.copy(), lasting=False) is first
    assert memory.peak == size

    second = tables.of(2 * costs, lasting=True)
    # Both are in use, so neither gives way.
    assert tables.of(3 * costs, lasting=False).cut
    assert not second.cut

    del second
    assert not tables.of(3 * costs, lasting=False).cut
    assert memory.peak == 2 * size


@given(requests(max_blocks=7), st.sampled_from((0.001, 0.01, 0.1)))
def test_with_hardly_any_memory_nothing_false_is_said(request: Request, memory_mb: float) -> None:
    """Nor is anything refused: what is found without tables and models is the answer."""
    options = {"objective": request.objective, "joint_allowance": request.joint_allowance}
    some = (request.blocks, request.targets)
    answer = solve(*some, time_limit_ms=AMPLE_MS, memory_limit_mb=memory_mb, **options)  # type: ignore[arg-type]
    ample = solve(*some, time_limit_ms=AMPLE_MS, **options)  # type: ignore[arg-type]

    assert not verify(*some, answer, **options)  # type: ignore[arg-type]
    assert len(answer.stacks) <= len(ample.stacks) <= answer.bounds.served
    if answer.objective_proven:
        assert answer.total_blocks == ample.total_blocks


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_less_memory_is_not_exceeded(objective: Objective) -> None:
    """Fifty points have prices of their own each: a table for each of them would not fit."""
    blocks, targets = crowded(50)
    limits = Deadline(AMPLE_MS, memory=Memory(40))
    answer = answered(Order(blocks=blocks, targets=targets, objective=objective), limits, limits)

    assert len(answer.stacks) == 50
    assert 0 < limits.memory.peak <= 40 * MEGABYTE


def test_no_memory_is_refused() -> None:
    blocks, targets = make_blocks("1 2"), make_targets("3")
    answer = solve(blocks, targets)
    for ask in (solve, alternatives, trade_off):
        some = () if ask is solve else (answer,)
        with pytest.raises(InputError, match="memory_limit_mb"):
            ask(blocks, targets, *some, memory_limit_mb=0)
