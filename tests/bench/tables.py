"""What it saves that tables are kept between requests: CPU time with cold and with warm tables.

    python -m tests.bench.tables [--count N]

Each request is solved twice in a row, by the library: first as in a new process, then again. CPU
time of this process, so that other work on the machine counts little.
"""

import argparse
import time
from collections.abc import Sequence
from random import Random
from statistics import median
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

import wrung
from wrung import Block, GaugeSet, LengthTarget, Objective, inch, uin, um
from wrung.planning.candidates import layout, supply
from wrung.planning.candidates.tables import TableCache


class Family(Struct, frozen=True, kw_only=True):
    """One set, so many targets in a range of steps, quanta."""

    name: str
    composition: str
    step: int
    low: int
    high: int
    targets: int
    objective: Objective
    certified: bool = False


def _inch(name: str, targets: int, objective: Objective, *, certified: bool = False) -> Family:
    return Family(
        name=f"inch-81, {name}",
        composition="inch-81",
        step=inch("0.0001"),
        low=3_000,
        high=40_000,
        targets=targets,
        objective=objective,
        certified=certified,
    )


def _metric(name: str, targets: int, objective: Objective, *, certified: bool = False) -> Family:
    return Family(
        name=f"metric-122, {name}",
        composition="metric-122",
        step=um("1"),
        low=10_000,
        high=150_000,
        targets=targets,
        objective=objective,
        certified=certified,
    )


FAMILIES: Final = (
    _inch("1, fewest", 1, "fewest_blocks"),
    _inch("1 certified, least", 1, "least_error", certified=True),
    _inch("6 certified, least", 6, "least_error", certified=True),
    _metric("1, fewest", 1, "fewest_blocks"),
    _metric("1 certified, least", 1, "least_error", certified=True),
)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.tables", description=__doc__)
    parser.add_argument("--count", type=int, default=30, help="requests of a family")
    count: int = parser.parse_args().count
    print(f"{'CPU, ms, median':28} {'cold':>7} {'warm':>7} {'warm / cold':>12} {'MB kept':>11}")
    for family in FAMILIES:
        print(_line(family, count), flush=True)


def _line(family: Family, count: int) -> str:
    random = Random(family.name)
    blocks = _shelf(family, random)
    cold: list[float] = []
    warm: list[float] = []
    kept = 0
    for _ in range(count):
        targets = _targets(family, random)
        cache = _forget()
        cold.append(_cpu_ms(blocks, targets, family.objective))
        warm.append(_cpu_ms(blocks, targets, family.objective))
        kept = max(kept, cache.cells * 8)
    ratio = median(warm) / median(cold)
    return (
        f"{family.name:28} {median(cold):7.2f} {median(warm):7.2f} {ratio:12.2f} {kept / 1e6:11.1f}"
    )


def _forget() -> TableCache:
    """As in a new process."""
    cache = TableCache()
    setattr(supply, "TABLES", cache)  # noqa: B010 - final for everyone but a benchmark
    layout.laid_out.cache_clear()
    return cache


def _cpu_ms(
    blocks: Sequence[Block], targets: Sequence[LengthTarget], objective: Objective
) -> float:
    start = time.process_time()
    wrung.solve(blocks, targets, objective=objective, time_limit_ms=2_000)
    return (time.process_time() - start) * 1000


def _shelf(family: Family, random: Random) -> list[Block]:
    one = GaugeSet(id="a", composition=family.composition, limit_deviation=um("0.1")).blocks()
    if not family.certified:
        return list(one)
    return [
        replace(
            block,
            deviation=random.randint(-30, 30) * uin("0.1"),
            expanded_uncertainty=random.randint(15, 25) * uin("0.1"),
        )
        for block in one
    ]


def _targets(family: Family, random: Random) -> list[LengthTarget]:
    return [
        LengthTarget(ref=f"t{n}", length=random.randrange(family.low, family.high) * family.step)
        for n in range(family.targets)
    ]


if __name__ == "__main__":
    main()
