"""How much an installation answers, and what a large one would need.

    chrt --rr 1 python -m tests.bench.scale measure
    python -m tests.bench.scale model

The first measures and writes tests/bench/scale.json; `chrt` keeps other work off the CPUs, but for
a twentieth of each second, and takes root. The second compares the queueing model with those
points, and asks it for a thousand services or workers and ten thousand sites. Both print tables
for deploy/SCALE.md.
"""

import argparse
import os
import sys
import time
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.capacity import Point, measured
from bench.queueing import Costs, Size, closed, costs, hottest, opened

_FILE = Path(__file__).with_name("scale.json")
_HEAD = (
    "| what | processes | threads | clients | sites | a second | service, ms | database, ms "
    "| balancer, ms | client, ms | CPUs used | connections |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)
_CHECKED = (
    "| what | processes | threads | clients | sites | measured | model | model / measured "
    "| with the point's own CPU times | that / measured |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)
_LARGE = (
    "| plans of all | requests a second | cell | median, ms | 99th percentile, ms | services busy "
    "| database busy |\n| ---: | ---: | --- | ---: | ---: | ---: | ---: |"
)
_BATCHES = (
    "| workers of a cell | requests a second | of fifty cells | workers busy | database busy |\n"
    "| ---: | ---: | ---: | ---: | ---: |"
)
SITES, SERVICES, CELLS, DATABASE_CPUS = 10_000, 1000, 50, 8
_THREADS = 4
_SPREAD = 1.0
"""Of the logarithm of a site's load: one in six sites has 2.7 times the median or more."""


def main() -> None:
    """Do what is asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("what", choices=["measure", "model"])
    if parser.parse_args().what == "measure":
        _measure()
    else:
        _model(msgspec.json.decode(_FILE.read_bytes(), type=list[Point]))


def _measure() -> None:
    load = os.getloadavg()[0]
    print(f"{time.strftime('%Y-%m-%d')}, {os.cpu_count()} CPUs, load {load:.0f} before.\n\n{_HEAD}")
    points = measured()
    for each in points:
        print(_row(each))
    _FILE.write_bytes(msgspec.json.format(msgspec.json.encode(points), indent=2) + b"\n")


def _model(points: list[Point]) -> None:
    print(_CHECKED)
    for each in points:
        size = Size(
            services=each.processes,
            threads=each.threads,
            sites=each.sites,
            cpus=os.cpu_count() or 1,
        )
        # A batch has one client, but as many ask for its next request as there are workers.
        clients = each.processes if each.kind == "batches" else each.clients
        cells = [*map(str, _size(each)), f"{each.per_second:.0f}"]
        for cost in (_costs(points, each.kind), _costs(points, each.kind, each)):
            found = closed(cost, size, clients).per_second
            cells += (f"{found:.0f}", f"{found / each.per_second:.2f}")
        print(f"| {' | '.join(cells)} |")
    print(f"\n{_LARGE}")
    cell = Size(
        services=SERVICES // CELLS,
        threads=_THREADS,
        sites=SITES // CELLS,
        database_cpus=DATABASE_CPUS,
    )
    stack, plan = _costs(points, "stacks"), _costs(points, "plans")
    hot = hottest(SITES, CELLS, _SPREAD)
    for share in (0.1, 0.5):
        most = 1000 * SERVICES / ((1 - share) * stack.service + share * plan.service)
        for load in (0.3, 0.6, 0.75):
            for name, more in (("mean", 1.0), (f"busiest, {hot:.2f} of it", hot)):
                each_cell = more * load * most / CELLS
                there = opened({stack: 1 - share, plan: share}, cell, each_cell)
                times = f"{there.median:.1f} | {there.late:.1f}"
                busy = f"{there.services:.0%} | {there.database:.0%}"
                print(f"| {share:.0%} | {load * most:,.0f} | {name} | {times} | {busy} |")
    print(f"\n{_BATCHES}")
    for workers in (20, 40, 80):
        size = Size(services=workers, sites=1, database_cpus=DATABASE_CPUS)
        there = closed(_costs(points, "batches"), size, workers, requests=20_000)
        rates = f"{there.per_second:,.0f} | {CELLS * there.per_second:,.0f}"
        print(f"| {workers} | {rates} | {there.services:.0%} | {there.database:.0%} |")


def _costs(points: list[Point], kind: str, loaded: Point | None = None) -> Costs:
    """From one service that a client, then eight, ask for one site; or from one worker."""
    first = [e for e in points if (e.kind, e.processes, e.threads, e.sites) == (kind, 1, 1, 1)]
    lone, *others = sorted(first, key=lambda each: each.clients)
    return costs(kind, lone, loaded or (*others, lone)[0])


def _size(point: Point) -> tuple[str | int, ...]:
    return (point.kind, point.processes, point.threads, point.clients, point.sites)


def _row(point: Point) -> str:
    costs = (point.service_ms, point.database_ms, point.balancer_ms, point.client_ms)
    first = (*_size(point), f"{point.per_second:.0f}")
    cells = (*first, *(f"{each:.1f}" for each in costs), f"{point.cpus:.1f}", point.connections)
    return f"| {' | '.join(map(str, cells))} |"


if __name__ == "__main__":
    main()
