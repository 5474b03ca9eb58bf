"""Plan from asyncio without holding up the event loop, and end the search when nobody waits for it.

A search runs in a thread; `Cancel` tells it to end, as cancelling a thread is impossible. Run it by
the Python that `wrung` is installed for. The shop and its sets are invented.
"""

import asyncio
from collections.abc import Sequence

from wrung import Answer, Block, Cancel, GaugeSet, LengthTarget, Target, inch, solve


async def plan(
    blocks: Sequence[Block], targets: Sequence[Target], *, time_limit_ms: float
) -> Answer:
    """As `wrung.solve`; if the task is cancelled, the search ends and its thread is free again."""
    cancel = Cancel()
    search = asyncio.ensure_future(
        asyncio.to_thread(solve, blocks, targets, time_limit_ms=time_limit_ms, cancel=cancel)
    )
    try:
        # Shielded, because a thread goes on after its future was cancelled.
        return await asyncio.shield(search)
    except asyncio.CancelledError:
        cancel.cancel()
        await search
        raise


async def best_within(
    blocks: Sequence[Block], targets: Sequence[Target], *, patience_s: float
) -> Answer:
    """The best plan found when patience ends, if the proof takes longer than that."""
    cancel = Cancel()
    asyncio.get_running_loop().call_later(patience_s, cancel.cancel)
    return await asyncio.to_thread(solve, blocks, targets, time_limit_ms=60_000, cancel=cancel)


async def main() -> None:
    """Two shops ask at once; one goes home early."""
    shelf = GaugeSet(id="bench-2", composition="inch-81", grade="AS-1").blocks()
    targets = [LengthTarget(ref=f"op{k}0", length=inch(f"1.{k}627")) for k in range(1, 5)]
    staying = asyncio.create_task(plan(shelf, targets, time_limit_ms=2000))
    leaving = asyncio.create_task(plan(shelf, targets, time_limit_ms=60_000))
    await asyncio.sleep(0)
    leaving.cancel()
    answer = await staying
    gone = (await asyncio.gather(leaving, return_exceptions=True))[0]
    print(f"{answer.outcome}: {answer.total_blocks} blocks for {len(answer.stacks)} stacks")
    print(f"the other one: {type(gone).__name__}")
    early = await best_within(shelf, targets, patience_s=0.05)
    print(f"within 0.05 s: {early.outcome}, {len(early.stacks)} stacks")


if __name__ == "__main__":
    asyncio.run(main())
