"""Clients that mix plans, stacks, cards and batches, and keep account of every answer."""

import json
import random
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from typing import Any

import httpx
from msgspec import Struct, field

from bench.crib.served import MM, plan_of
from wrung.lengths import to_text

from .installation import BLOCKS

PATIENCE_S = 240.0
"""No request may be without an answer for so long, however often it is sent again."""
_PLANS_AN_HOUR = 15
_AGAIN_S = 0.2
_OF_A_BATCH = 30
_WRONG = {
    "unit": "mm",
    "sets": [{"id": "S", "composition": "no-such-set"}],
    "targets": [{"ref": "t", "kind": "length", "length": "5"}],
}
_BUSY = (502, 503, 504)


class Tally(Struct, kw_only=True):
    """What one kind of request met.

    Attributes:
        outcomes: the last answer of each request; they add up to `asked`.
        refused: answers 503, after which the request was sent again.
        cut: connections that ended without an answer, or with one of the balancer's, likewise.
        slowest_s: the longest wait for one answer.
    """

    asked: int = 0
    outcomes: Counter[int] = field(default_factory=Counter)
    refused: int = 0
    cut: int = 0
    slowest_s: float = 0.0

    def __str__(self) -> str:
        """For a table."""
        return ", ".join(f"{n} times {status}" for status, n in sorted(self.outcomes.items()))


class Account(Struct, kw_only=True):
    """What was asked and answered since the installation began; numbers are never used again.

    Attributes:
        plans: ids of the plans that were acknowledged.
        batches: ids of batches, with how many requests each has.
        wrong: what must not be, in words.
    """

    numbers: Iterator[int] = field(default_factory=count)
    plans: set[str] = field(default_factory=set)
    batches: dict[str, int] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)


class Clients:
    """Each works on one request after another, and sends it again until it is answered."""

    def __init__(self, address: str, account: Account, *, pause_s: float = 0.05) -> None:
        self._address, self._account, self._pause_s = address, account, pause_s
        self._stop = threading.Event()

    @contextmanager
    def busy(self) -> Iterator[dict[str, Tally]]:
        """All at work within; afterwards every request has had its answer."""
        kinds = {"plan": self._plan, "stack": self._stack, "card": self._card, "batch": self._batch}
        tallies = {kind: Tally() for kind in kinds}
        work = [("plan", n) for n in range(4)] + [("stack", 4), ("stack", 5), ("card", 6)]
        threads = [
            threading.Thread(target=self._work, args=(kinds[kind], tallies[kind], seed))
            for kind, seed in (*work, ("batch", 7))
        ]
        for thread in threads:
            thread.start()
        try:
            yield tallies
        finally:
            self._stop.set()
            for thread in threads:
                thread.join()
        for kind, tally in tallies.items():
            if sum(tally.outcomes.values()) != tally.asked:
                self._account.wrong.append(f"{kind}: {tally.asked} asked, answered {tally}")

    def _work(
        self, ask: Callable[[httpx.Client, Tally, random.Random], None], tally: Tally, seed: int
    ) -> None:
        chance = random.Random(seed)
        try:
            with httpx.Client(base_url=self._address, timeout=60) as session:
                while not self._stop.is_set():
                    tally.asked += 1
                    ask(session, tally, chance)
                    self._stop.wait(self._pause_s)
        # Told with all else that is wrong, when the clients are at their end.
        except Exception as error:  # noqa: BLE001
            self._account.wrong.append(f"{ask.__name__}: {error!r}")

    def _plan(self, session: httpx.Client, tally: Tally, chance: random.Random) -> None:
        """A plan for one block and an hour, which others may want as well."""
        number = next(self._account.numbers)
        length = to_text((100 + chance.randrange(BLOCKS)) * MM // 10, "mm")
        body = plan_of(number, length, number // _PLANS_AN_HOUR)
        key = {"Idempotency-Key": f"plan-{number}"}
        answer = _until_answered(tally, lambda: session.post("/v1/plans", json=body, headers=key))
        tally.outcomes[answer.status_code] += 1
        if answer.status_code == 201:
            self._account.plans.add(answer.json()["id"])
        elif answer.status_code != 409:
            self._account.wrong.append(f"plan: {answer.status_code} {answer.text[:200]}")

    def _stack(self, session: httpx.Client, tally: Tally, chance: random.Random) -> None:
        """A stack of a set, without the crib."""
        body = stack_of(chance)
        answer = _until_answered(tally, lambda: session.post("/v1/stacks", json=body))
        tally.outcomes[answer.status_code] += 1
        if answer.status_code != 200 or not _is_of(answer.json(), body):
            self._account.wrong.append(f"stack: {answer.status_code} {answer.text[:200]}")

    def _card(self, session: httpx.Client, tally: Tally, chance: random.Random) -> None:
        """A card as PDF."""
        body = stack_of(chance)
        answer = _until_answered(tally, lambda: session.post("/v1/cards", json=body))
        tally.outcomes[answer.status_code] += 1
        if answer.status_code != 200 or not answer.content.startswith(b"%PDF"):
            self._account.wrong.append(f"card: {answer.status_code} {answer.text[:200]}")

    def _batch(self, session: httpx.Client, tally: Tally, chance: random.Random) -> None:
        """Many stacks, one of them wrong, and all their answers."""
        bodies = [stack_of(chance) for _ in range(_OF_A_BATCH)]
        bodies[chance.randrange(_OF_A_BATCH)] = _WRONG
        key = {"Idempotency-Key": f"batch-{next(self._account.numbers)}"}
        posted = _until_answered(
            tally,
            lambda: session.post("/v1/batches", json={"requests": bodies}, headers=key),
        )
        tally.outcomes[posted.status_code] += 1
        if posted.status_code != 202:
            self._account.wrong.append(f"batch: {posted.status_code} {posted.text[:200]}")
            return
        name = posted.json()["id"]
        self._account.batches[name] = len(bodies)
        self._judge(name, bodies, _results(session, tally, name, len(bodies)))

    def _judge(self, name: str, bodies: list[dict[str, Any]], lines: list[dict[str, Any]]) -> None:
        positions = [line["position"] for line in lines]
        if positions != list(range(len(bodies))):
            self._account.wrong.append(f"batch {name}: answers of {positions}")
        for line, body in zip(lines, bodies, strict=False):
            right = (
                line["status"] == 422
                if body is _WRONG
                else line["status"] == 200 and _is_of(line["answer"], body)
            )
            if not right:
                self._account.wrong.append(f"batch {name}: {json.dumps(line)[:300]}")


def stack_of(chance: random.Random) -> dict[str, Any]:
    """A request for one length of the usual inch set."""
    return {
        "unit": "in",
        "sets": [{"id": "S", "composition": "inch-81", "grade": "AS-1"}],
        "targets": [
            {"ref": "t", "kind": "length", "length": f"{chance.randrange(3000, 39_999) / 10_000}"}
        ],
        "time_limit_ms": 60_000,
    }


def _is_of(answer: dict[str, Any], body: dict[str, Any]) -> bool:
    """Whether it is the one stack of that length."""
    lengths = [float(stack["nominal"]) for stack in answer["stacks"]]
    return answer["outcome"] == "optimal" and lengths == [float(body["targets"][0]["length"])]


def _results(session: httpx.Client, tally: Tally, name: str, total: int) -> list[dict[str, Any]]:
    """All lines, read on from where the last answer ended."""
    lines: list[dict[str, Any]] = []
    end = time.monotonic() + PATIENCE_S
    while len(lines) < total:
        assert time.monotonic() < end, f"batch {name}: {len(lines)} of {total} answers"
        after = {"after": lines[-1]["position"]} if lines else {}
        path = f"/v1/batches/{name}/results"
        try:
            with session.stream("GET", path, params=after) as answer:
                if answer.status_code == 200:
                    lines.extend(json.loads(line) for line in answer.iter_lines())
                else:
                    assert answer.status_code in _BUSY, (name, answer.status_code)
                    tally.refused += 1
        except httpx.TransportError:
            tally.cut += 1
        time.sleep(_AGAIN_S)
    return lines


def _until_answered(tally: Tally, ask: Callable[[], httpx.Response]) -> httpx.Response:
    end = time.monotonic() + PATIENCE_S
    while True:
        began = time.monotonic()
        try:
            answer = ask()
        except httpx.TransportError:
            tally.cut += 1
        else:
            tally.slowest_s = max(tally.slowest_s, time.monotonic() - began)
            if answer.status_code not in _BUSY:
                return answer
            if answer.status_code == 503:
                assert int(answer.headers["Retry-After"]) > 0, answer.text
                tally.refused += 1
            else:
                tally.cut += 1
        assert time.monotonic() < end, "it was never answered"
        time.sleep(_AGAIN_S)
