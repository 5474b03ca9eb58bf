"""The recipe for asyncio: it plans, and it leaves no search behind."""

import asyncio
import threading

import asyncio_plan
import pytest

from patience import PATIENCE_S
from wrung import GaugeSet, LengthTarget, inch

SHELF = [
    block
    for number in range(3)
    for block in GaugeSet(id=f"s{number}", composition="inch-81", grade="0").blocks()
]
MANY = [LengthTarget(ref=f"t{k}", length=inch(f"{0.5003 + 0.0931 * k:.4f}")) for k in range(30)]


def test_the_example_runs(capsys: pytest.CaptureFixture[str]) -> None:
    asyncio.run(asyncio_plan.main())

    told = capsys.readouterr().out
    assert "for 4 stacks" in told
    assert "the other one: CancelledError" in told
    assert "within 0.05 s: " in told


def test_a_cancelled_task_ends_its_search() -> None:
    """Of ten minutes, in the thread that had it."""

    async def cancelled() -> None:
        task = asyncio.create_task(asyncio_plan.plan(SHELF, MANY, time_limit_ms=600_000))
        await asyncio.sleep(0.2)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task

    before = set(threading.enumerate())
    # `run` waits for the threads of the loop, so it would wait for the search, too.
    asyncio.run(asyncio.wait_for(cancelled(), PATIENCE_S))

    # Those of other tests may have ended meanwhile.
    assert set(threading.enumerate()) <= before


def test_patience_gives_the_best_plan_so_far() -> None:
    answer = asyncio.run(asyncio_plan.best_within(SHELF, MANY, patience_s=0.2))

    assert answer.outcome in ("feasible", "partial", "optimal")
    assert answer.stacks
