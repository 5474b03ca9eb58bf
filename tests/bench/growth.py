"""How time grows with targets, blocks and the overlap of times: a table, and a picture of it.

    python -m tests.bench.growth [--seeds N] [--picture FILE]

Each request is solved by the library, in this process, one at a time, with the usual time limit, by
the clock of CPU time. Nothing takes longer than that, so it ends within some ten minutes where the
machine is idle. It fails if an answer
comes more than a tenth after its limit, or if more than 500 MB were ever held.
"""

import argparse
import gc
import os
import resource
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from statistics import median
from typing import Final

from msgspec import Struct

import wrung
from wrung import Objective, deadline

from .chart import Chart, Point, Series, draw
from .cpu_clock import go_by_cpu_time
from .growing import (
    BLOCKS,
    DAY,
    EDGES,
    OBJECTIVES,
    OVERLAPS,
    SETS,
    STACKS,
    TARGETS,
    Case,
    with_blocks,
    with_overlap,
    with_targets,
)

PICTURE: Final = Path(__file__).parent / "growth.svg"
LIMIT_MS: Final = 2_000
MOST_MEGABYTES: Final = 500
MOST_LATE: Final = 0.10


class Solved(Struct, frozen=True, kw_only=True):
    """One request: CPU time, and whether the plan is proven best."""

    ms: float
    proven: bool


def main() -> None:
    """Measure, print, draw, judge."""
    arguments = _arguments()
    go_by_cpu_time(deadline)
    _solve(with_targets(1, 0), "fewest_blocks")  # the first search loads the solver
    times: list[Solved] = []
    by_targets = _series(times, "targets", with_targets, TARGETS, arguments.seeds)
    by_blocks = _series(times, "blocks", with_blocks, BLOCKS, arguments.seeds)
    by_overlap = _series(times, "at one time", with_overlap, OVERLAPS, arguments.seeds)
    times += _edges()
    late = max(0.0, max(one.ms for one in times) / LIMIT_MS - 1)
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    today, busy = datetime.now(UTC).date(), os.getloadavg()[0]
    note = (
        f"CPU time; marks: median of {arguments.seeds} requests, strokes: the worst. "
        f"{len(times)} requests, {today}, load {busy:.0f} on {os.cpu_count()} CPUs; most memory "
        f"held {megabytes:.0f} MB, latest answer {late:.1%} after its limit."
    )
    print(note)
    charts = (
        Chart(title=f"Targets, from {SETS} sets of 81 blocks", axis="targets", series=by_targets),
        Chart(title=f"Blocks, for {STACKS} targets", axis="blocks", series=by_blocks),
        Chart(
            title=f"Overlap of times, {DAY} targets of a day",
            axis="targets needed at one time, on average",
            series=by_overlap,
        ),
    )
    arguments.picture.write_text(draw(charts, LIMIT_MS, note), encoding="utf-8")
    if megabytes > MOST_MEGABYTES or late > MOST_LATE:
        sys.exit("too much memory, or too late")


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.growth",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--seeds", type=int, default=5, help="requests for each point")
    parser.add_argument("--picture", type=Path, default=PICTURE, metavar="FILE")
    return parser.parse_args()


def _series(
    times: list[Solved],
    axis: str,
    make: Callable[[int, int], Case],
    sizes: Sequence[int],
    seeds: int,
) -> tuple[Series, ...]:
    series: list[Series] = []
    for objective in OBJECTIVES:
        points: list[Point] = []
        for size in sizes:
            solved = [_solve(make(size, seed), objective) for seed in range(1, seeds + 1)]
            times += solved
            points.append(_point(size, solved))
            print(_line(axis, objective, points[-1]), flush=True)
        series.append(Series(name=objective, points=tuple(points)))
    return tuple(series)


def _edges() -> Iterator[Solved]:
    for targets, blocks in EDGES:
        for objective in OBJECTIVES:
            one = _solve(with_blocks(blocks, 1, targets=targets), objective)
            point = _point(targets, [one])
            print(_line(f"targets, {blocks} blocks", objective, point), flush=True)
            yield one


def _solve(case: Case, objective: Objective) -> Solved:
    # What other requests left behind is not collected in the time of this one.
    gc.collect()
    start = time.thread_time()
    answer = wrung.solve(case.blocks, case.targets, objective=objective, time_limit_ms=LIMIT_MS)
    ms = (time.thread_time() - start) * 1000
    return Solved(ms=ms, proven=answer.proven and answer.objective_proven)


def _point(size: int, solved: Sequence[Solved]) -> Point:
    return Point(
        size=size,
        median=median(one.ms for one in solved),
        worst=max(one.ms for one in solved),
        proven=sum(one.proven for one in solved) / len(solved),
    )


def _line(axis: str, objective: str, point: Point) -> str:
    return (
        f"{objective:13} {point.size:4} {axis:22} median {point.median:7.1f} ms"
        f"  worst {point.worst:7.1f} ms  proven {point.proven:4.0%}"
    )


if __name__ == "__main__":
    main()
