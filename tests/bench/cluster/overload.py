"""Ten times as many requests as the replicas can answer.

What they can answer is measured anew before each of a few rounds: other work on the machine comes
and goes, and so makes both sides of each ratio late.
"""

import asyncio
import time

import httpx
from msgspec import Struct

from bench.crib.faults import BOUND_S
from bench.payloads import HARD

from .installation import Installation, installed

HEAD = (
    "| overload | can answer, a second | sent, a second | accepted | refused "
    "| alone: median, s | worst, s | accepted: median, s | 99th percentile, s | worst, s "
    "| refused: 99th percentile, s | as before after, s |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)
TIMES = 10
_LIMIT_S = 1.0
_ROUNDS = 3
_SECONDS = 5.0
"""Of overload, in each; before it half as long without."""
_RECOVERY_S = 10.0
_LATER = 3
"""How many times the median of those without overload that of the accepted ones may be."""
_BODY = HARD.replace(b"2000", b"1000")
_HEADERS = {"Content-Type": "application/json"}


class Answers(Struct, frozen=True, kw_only=True):
    """How long the accepted ones took, and the refused ones, s."""

    accepted: list[float]
    refused: list[float]


class Round(Struct, frozen=True, kw_only=True):
    """A round.

    Attributes:
        alone: times of requests without overload, s.
        capacity: how many a second were answered then.
        recovery: after the overload, s, until one was answered as fast again.
    """

    alone: list[float]
    capacity: float
    answers: Answers
    recovery: float


def overloaded() -> str:
    """The row.

    Raises:
        AssertionError: an answer is neither 200 nor a 503 that says when to try again, or comes
            late, or the replicas do not recover.
    """
    with installed(workers=0) as of:
        return asyncio.run(_overloaded(of))


async def _overloaded(of: Installation) -> str:
    limits = httpx.Limits(max_connections=2000, max_keepalive_connections=100)
    async with httpx.AsyncClient(base_url=of.address, timeout=60, limits=limits) as session:
        rounds = [await _round(session, len(of.replicas)) for _ in range(_ROUNDS)]
    assert not of.dead(), of.dead()
    alone = sorted(s for each in rounds for s in each.alone)
    accepted = sorted(s for each in rounds for s in each.answers.accepted)
    refused = sorted(s for each in rounds for s in each.answers.refused)
    capacity = sum(each.capacity for each in rounds) / _ROUNDS
    recovery = max(each.recovery for each in rounds)
    times = (
        *(_at(alone, 0.5), alone[-1]),
        *(_at(accepted, 0.5), _at(accepted, 0.99), accepted[-1]),
        *(_at(refused, 0.99), recovery),
    )
    row = (
        f"| searches of {_LIMIT_S:.0f} s | {capacity:.1f} | {TIMES * capacity:.0f} "
        f"| {len(accepted)} | {len(refused)} | {' | '.join(f'{each:.2f}' for each in times)} |"
    )
    assert _at(accepted, 0.5) < _LATER * _at(alone, 0.5), row
    assert accepted[-1] < BOUND_S, row
    assert recovery < _RECOVERY_S, row
    return row


async def _round(session: httpx.AsyncClient, clients: int) -> Round:
    alone, capacity = await _alone(session, clients)
    answers = await _sent(session, TIMES * capacity)
    recovery = await _recovery(session, _LATER * alone[-1])
    return Round(alone=alone, capacity=capacity, answers=answers, recovery=recovery)


async def _alone(session: httpx.AsyncClient, clients: int) -> tuple[list[float], float]:
    """Times of requests where as many clients ask as there are workers, and how many a second."""
    took = list[float]()
    began = time.monotonic()

    async def work() -> None:
        while (sent := time.monotonic()) < began + _SECONDS / 2:
            answer = await _post(session)
            if answer.status_code == 200:
                took.append(time.monotonic() - sent)

    await asyncio.gather(*(work() for _ in range(clients)))
    return sorted(took), len(took) / (time.monotonic() - began)


async def _sent(session: httpx.AsyncClient, per_second: float) -> Answers:
    """Requests come at that pace, whatever becomes of those before."""
    seen = Answers(accepted=[], refused=[])

    async def one() -> None:
        began = time.monotonic()
        answer = await _post(session)
        took = time.monotonic() - began
        if answer.status_code == 200:
            seen.accepted.append(took)
            return
        assert answer.status_code == 503, answer.text
        assert int(answer.headers["Retry-After"]) > 0
        seen.refused.append(took)

    began = time.monotonic()
    async with asyncio.TaskGroup() as group:
        for number in range(int(per_second * _SECONDS)):
            await asyncio.sleep(began + number / per_second - time.monotonic())
            group.create_task(one())
    return seen


async def _recovery(session: httpx.AsyncClient, usual_s: float) -> float:
    """How long until a request is accepted, and answered in the usual time, again."""
    began = time.monotonic()
    while time.monotonic() - began < 6 * _RECOVERY_S:
        sent = time.monotonic()
        if (await _post(session)).status_code == 200 and time.monotonic() - sent < usual_s:
            return sent - began
        await asyncio.sleep(0.1)
    return float("inf")


async def _post(session: httpx.AsyncClient) -> httpx.Response:
    return await session.post("/v1/stacks", content=_BODY, headers=_HEADERS)


def _at(ordered: list[float], share: float) -> float:
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]
