"""How much an installation answers, and what a large one would need.

    nice -n -10 python -m tests.bench.scale measure
    python -m tests.bench.scale model

The first measures and writes tests/bench/scale.json; the second compares the queueing model with
those points, and asks it for a thousand workers and ten thousand sites. Both print tables for
deploy/SCALE.md.
"""

import argparse
import os
import sys
import time
from pathlib import Path

import msgspec

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.capacity import CLIENTS, Point, measured
from bench.queueing import Cell, Costs, closed, costs, hottest, opened

_FILE = Path(__file__).with_name("scale.json")
_HEAD = (
    "| what | processes | threads | clients | sites | a second | service, ms | database, ms "
    "| balancer, ms | client, ms | CPUs used | connections |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)
_CHECKED = (
    "| what | processes | threads | clients | sites | measured | model | model / measured |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)
_LARGE = (
    "| plans of all | requests a second | cell | median, ms | 99th percentile, ms | services busy "
    "| database busy |\n| ---: | ---: | --- | ---: | ---: | ---: | ---: |"
)
SITES, SERVICES, CELLS, DATABASE_CPUS = 10_000, 1000, 50, 8
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
        if each.kind != "batches":
            found = closed(
                _costs(points, each.kind),
                services=each.processes,
                threads=each.threads,
                cpus=os.cpu_count() or 1,
                clients=each.clients,
                # Stacks have no site, so none waits for another there.
                sites=each.sites if each.kind == "plans" else each.clients,
            )
            size = (each.kind, each.processes, each.threads, each.clients, each.sites)
            cells = (*size, *(f"{n:.0f}" for n in (each.per_second, found)))
            print(f"| {' | '.join(map(str, cells))} | {found / each.per_second:.2f} |")
    print(f"\n{_LARGE}")
    stack, plan = _costs(points, "stacks"), _costs(points, "plans")
    hot = hottest(SITES, CELLS, _SPREAD)
    for share in (0.1, 0.5):
        most = 1000 * SERVICES / ((1 - share) * stack.service + share * plan.service)
        for load in (0.3, 0.6, 0.75):
            for name, more in (("mean", 1.0), (f"busiest, {hot:.2f} of it", hot)):
                cell = Cell(
                    services=SERVICES // CELLS,
                    database_cpus=DATABASE_CPUS,
                    per_second=more * load * most / CELLS,
                    plans=share,
                )
                found_there = opened(stack, plan, cell)
                times = f"{found_there.median:.1f} | {found_there.late:.1f}"
                busy = f"{found_there.services:.0%} | {found_there.database:.0%}"
                print(f"| {share:.0%} | {load * most:,.0f} | {name} | {times} | {busy} |")


def _costs(points: list[Point], kind: str) -> Costs:
    """From one service that a client, then eight, ask for one site."""
    lone, loaded = (
        each
        for clients in (1, CLIENTS)
        for each in points
        if (each.kind, each.processes, each.threads) == (kind, 1, 1)
        and (each.clients, each.sites) == (clients, 1)
    )
    return costs(lone, loaded)


def _row(point: Point) -> str:
    size = (point.kind, point.processes, point.threads, point.clients, point.sites)
    costs = (point.service_ms, point.database_ms, point.balancer_ms, point.client_ms)
    first = (*size, f"{point.per_second:.0f}")
    cells = (*first, *(f"{each:.1f}" for each in costs), f"{point.cpus:.1f}", point.connections)
    return f"| {' | '.join(map(str, cells))} |"


if __name__ == "__main__":
    main()
