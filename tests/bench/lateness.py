"""How much later than their time limit answers come: random requests, small ones and the largest.

    python -m tests.bench.lateness [--count N] [--seed N] [--largest]

Everything that a worker does for a request is done here, from reading its body to the bytes of the
answer, and timed by the clock that searches go by. That is the CPU time of this thread, so that
other work on the machine does not count; CP-SAT, which looks at the time of day, may end sooner.
It fails if an answer is later than a tenth or 100 ms, whichever is more; a twentieth from 2 s on.
"""

import argparse
import gc
import math
import sys
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import partial
from itertools import pairwise
from random import Random
from typing import Any, Final

import msgspec
from msgspec import Struct

import wrung
from wrung import deadline
from wrung_service import pool
from wrung_service.api.coverage.work import CoverageWork
from wrung_service.api.stack_checks.work import StackCheckWork
from wrung_service.api.stacks.work import StackWork
from wrung_service.observe.lines import CanonicalLine, begin_line
from wrung_service.settings import Settings

from .cpu_clock import go_by_cpu_time
from .worst import BLOCKS, KINDS, TARGETS, Size, Worst, worst

LIMITS_MS: Final = (50, 100, 200, 500, 1000, 2000, 5000)
SHORTEST_MS: Final = 50
LONGEST_MS: Final = 5000


class Answered(Struct, frozen=True, kw_only=True):
    """One request: what it was, its limit, and how long it took in CPU time."""

    what: str
    limit_ms: float
    ms: float

    @property
    def late_ms(self) -> float:
        """After its limit; negative before."""
        return self.ms - self.limit_ms

    @property
    def allowed_ms(self) -> float:
        """How late it may be."""
        if self.limit_ms >= 2000:
            return 0.05 * self.limit_ms
        return max(0.1 * self.limit_ms, 100.0)


class Desk:
    """Answers bodies in this thread, by the clock of its CPU time."""

    def __init__(self) -> None:
        go_by_cpu_time(deadline, pool)
        begin_line(CanonicalLine(request_id="bench", method="POST"))
        limits, today = Settings().limits, partial(datetime.now, UTC)
        note = partial(print, "a claim failed its check:")
        self._works: dict[str, Any] = {
            "/v1/stacks": StackWork(wrung.solve, limits, today, note),
            "/v1/stack-checks": StackCheckWork(wrung.solve, limits, today, note),
            "/v1/coverage": CoverageWork(limits, today),
        }

    def answered(self, asked: Worst, limit_ms: int, size: Size) -> Answered:
        """The time from the body's last byte to the answer's."""
        body = msgspec.json.encode({**asked.body, "time_limit_ms": limit_ms})
        # What other requests left behind is not collected in the time of this one.
        gc.collect()
        received = time.thread_time()
        turn = pool.Turn("bench", limit_ms, received)
        turn.begin(waited=False, retry_after=1)
        msgspec.json.encode(self._works[asked.path](body, turn))
        ms = (time.thread_time() - received) * 1000
        what = f"{asked.name}, {size.targets} of {size.blocks}"
        return Answered(what=what, limit_ms=limit_ms, ms=ms)


def main() -> None:
    """Ask, print, judge."""
    arguments = _arguments()
    desk = Desk()
    small = Size(blocks=10, targets=1)
    desk.answered(worst(KINDS[0], small), LONGEST_MS, small)  # the first search loads the solver
    # As the service does: else what was imported is looked through in the midst of some request.
    gc.collect()
    gc.freeze()
    cases = _largest() if arguments.largest else _random(arguments.count, arguments.seed)
    found: list[Answered] = []
    for name, size, limit_ms, seed in cases:
        found.append(desk.answered(worst(name, size, seed), limit_ms, size))
        if found[-1].late_ms > 0:
            print(_line(found[-1]), flush=True)
    _report(found)
    if any(each.late_ms > each.allowed_ms for each in found):
        sys.exit("too late")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.lateness",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--count", type=int, default=200, help="random requests")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--largest", action="store_true", help="each kind at its largest instead")
    return parser.parse_args()


def _largest() -> Iterator[tuple[str, Size, int, int]]:
    for name in KINDS:
        for limit_ms in LIMITS_MS:
            yield name, Size(), limit_ms, 1


def _random(count: int, seed: int) -> Iterator[tuple[str, Size, int, int]]:
    random = Random(seed)
    for number in range(count):
        size = Size(blocks=_spread(random, 5, BLOCKS), targets=_spread(random, 1, TARGETS))
        yield random.choice(KINDS), size, _spread(random, SHORTEST_MS, LONGEST_MS), number


def _spread(random: Random, least: int, most: int) -> int:
    """As often between 10 and 100 as between 100 and 1000."""
    return round(math.exp(random.uniform(math.log(least), math.log(most))))


def _line(one: Answered) -> str:
    mark = "  TOO LATE" if one.late_ms > one.allowed_ms else ""
    return f"{one.what:52} limit {one.limit_ms:6.0f} ms  late {one.late_ms:7.1f} ms{mark}"


def _report(found: list[Answered]) -> None:
    print("\n| limit, ms | requests | latest, ms | allowed, ms | which |")
    print("| --- | ---: | ---: | ---: | --- |")
    edges = (*LIMITS_MS, math.inf)
    for low, high in pairwise(edges):
        own = [each for each in found if low <= each.limit_ms < high]
        if own:
            last = max(own, key=lambda each: each.late_ms / each.allowed_ms)
            late = f"{last.late_ms:.0f}" if last.late_ms > 0 else "in time"
            print(f"| {low}- | {len(own)} | {late} | {last.allowed_ms:.0f} | {last.what} |")


if __name__ == "__main__":
    main()
