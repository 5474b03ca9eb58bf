"""The same load for long, and the memory of every process meanwhile."""

import random
import statistics
import time

import httpx
from msgspec import Struct

from .accounting import faults
from .clients import PATIENCE_S, Account, Clients, Tally, stack_of
from .installation import Installation, installed

HEAD = (
    "| soak, min | plans | stacks | cards | batches | 503, sent again | process "
    "| middle third, MB | last third, MB | MB an hour |\n"
    "| ---: | --- | --- | --- | --- | ---: | --- | ---: | ---: | ---: |"
)
_EVERY_S = 2.0


class Memory(Struct, frozen=True, kw_only=True):
    """Of one process, after a warm-up of a third of the time.

    Attributes:
        before_mb: median of the middle third.
        after_mb: median of the last third.
        slope: of a line through both thirds, MB an hour.
    """

    name: str
    before_mb: float
    after_mb: float
    slope: float


class Soaked(Struct, frozen=True, kw_only=True):
    """What clients met, what does not add up, and the memory of each process."""

    tallies: dict[str, Tally]
    wrong: list[str]
    memory: list[Memory]


def soak(minutes: float, *, pause_s: float = 0.3) -> Soaked:
    """Plans, stacks, cards and batches for so long."""
    account = Account()
    with installed() as of:
        _warm_up(of)
        with Clients(of.address, account, pause_s=pause_s).busy() as tallies:
            of.wait_until_at_work()
            samples = _watched(of, 60 * minutes)
        wrong = faults(of.database, account) + of.dead()
    return Soaked(
        tallies=tallies,
        wrong=wrong,
        memory=[_judged(name, each) for name, each in samples.items()],
    )


def soaked_rows(minutes: float, most_mb: float) -> list[str]:
    """A row for each process.

    Raises:
        AssertionError: something does not add up, or a process grew by more than that.
    """
    soaked = soak(minutes)
    assert not soaked.wrong, soaked.wrong
    grown = [each for each in soaked.memory if each.after_mb - each.before_mb > most_mb]
    tallies = soaked.tallies
    kinds = " | ".join(str(tallies[kind]) for kind in ("plan", "stack", "card", "batch"))
    refused = sum(each.refused for each in tallies.values())
    told = f"{minutes:g} | {kinds} | {refused}"
    assert not grown, (told, soaked.memory)
    return [
        f"| {told if not n else ' | ' * 5} | {each.name} | {each.before_mb:.0f} "
        f"| {each.after_mb:.0f} | {each.slope:+.1f} |"
        for n, each in enumerate(soaked.memory)
    ]


def _warm_up(of: Installation) -> None:
    """Let each replica load what it needs for a card, however late its first one comes."""
    body = stack_of(random.Random(0))
    for each in of.replicas:
        path = f"http://127.0.0.1:{each.port}/v1/cards"
        httpx.post(path, json=body, timeout=PATIENCE_S).raise_for_status()


def _watched(of: Installation, seconds: float) -> dict[str, list[tuple[float, float]]]:
    """Hours and megabytes of each process, until the time is up."""
    began = time.monotonic()
    seen: dict[str, list[tuple[float, float]]] = {}
    while (passed := time.monotonic() - began) < seconds:
        for each in (*of.replicas, *of.workers):
            seen.setdefault(each.name, []).append((passed / 3600, each.megabytes()))
        time.sleep(_EVERY_S)
    return seen


def _judged(name: str, samples: list[tuple[float, float]]) -> Memory:
    third = len(samples) // 3
    hours, held = zip(*samples[third:], strict=True)
    return Memory(
        name=name,
        before_mb=statistics.median(each for _, each in samples[third : 2 * third]),
        after_mb=statistics.median(each for _, each in samples[2 * third :]),
        slope=statistics.linear_regression(hours, held).slope,
    )
