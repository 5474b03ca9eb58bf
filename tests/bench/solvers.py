"""The engine beside solvers for every purpose: proven of how many requests, and in what time.

    python -m tests.bench.solvers [--seeds N] [--limit-ms N]

CP-SAT, HiGHS and SCIP, all as OR-Tools comes with them, get the plain model: one variable for each
block and target, one row for each target's length, and one for each block and time. What counts is
the number served and then the first value of the objective; the engine goes on to those after it,
and its time is for all of them. Times are CPU time, so that other work on the machine counts for
little; each has one thread.
"""

import argparse
import os
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from statistics import median
from typing import Final

from msgspec import Struct

import wrung
from wrung import Objective

from .growing import Case, with_blocks, with_overlap
from .plain_model import PlainModel

SEEDS: Final = 5
LIMIT_MS: Final = 5_000
SET: Final = 81
OVERLAP: Final = 6
SOLVERS: Final = {"CP-SAT": "SAT", "HiGHS": "HIGHS", "SCIP": "SCIP"}
"""By the names that OR-Tools gives them."""


class Family(Struct, frozen=True, kw_only=True):
    """Requests of one size, by seed."""

    name: str
    make: Callable[[int], Case]
    objective: Objective


FAMILIES: Final = (
    Family(
        name="6 targets, 81 blocks, fewest blocks",
        make=lambda seed: with_blocks(SET, seed),
        objective="fewest_blocks",
    ),
    Family(
        name="the same, least error",
        make=lambda seed: with_blocks(SET, seed),
        objective="least_error",
    ),
    Family(
        name=f"24 targets of a day, {OVERLAP} at one time, fewest blocks",
        make=lambda seed: with_overlap(OVERLAP, seed),
        objective="fewest_blocks",
    ),
)


class Outcome(Struct, frozen=True, kw_only=True):
    """Of one request: CPU time, whether the value is proven least, and what it is, if there is one.

    The value is the number not served and the first value of the objective, quanta for errors.
    """

    ms: float
    proven: bool
    value: tuple[int, int] | None


def main() -> None:
    """Measure and print."""
    arguments = _arguments()
    print(
        f"{arguments.seeds} requests a family, {arguments.limit_ms} ms, "
        f"{datetime.now(UTC).date()}, load {os.getloadavg()[0]:.0f} on {os.cpu_count()} CPUs.\n"
    )
    print("| requests | solver | proven | best value found | median, ms | worst, ms |")
    print("| --- | --- | ---: | ---: | ---: | ---: |")
    wrung.solve((), ())  # the first search loads the solver
    for family in FAMILIES:
        for line in _lines(family, arguments.seeds, arguments.limit_ms):
            print(line, flush=True)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.solvers",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--seeds", type=int, default=SEEDS, help="requests of each family")
    parser.add_argument("--limit-ms", type=int, default=LIMIT_MS)
    return parser.parse_args()


def _lines(family: Family, seeds: int, limit_ms: int) -> Iterator[str]:
    cases = [family.make(seed) for seed in range(1, seeds + 1)]
    by_solver = {"the engine": [_engine(case, family.objective, limit_ms) for case in cases]}
    for name, backend in SOLVERS.items():
        by_solver[name] = [_general(case, family.objective, limit_ms, backend) for case in cases]
    rows = zip(*by_solver.values(), strict=True)
    best = [min((each.value for each in row if each.value), default=None) for row in rows]
    for name, outcomes in by_solver.items():
        yield _line(family.name, name, outcomes, best)


def _line(
    family: str, solver: str, outcomes: Sequence[Outcome], best: Sequence[tuple[int, int] | None]
) -> str:
    count, ms = len(outcomes), [each.ms for each in outcomes]
    proven = sum(each.proven for each in outcomes)
    as_good = sum(each.value == value for each, value in zip(outcomes, best, strict=True))
    return (
        f"| {family} | {solver} | {proven} of {count} | {as_good} of {count} "
        f"| {median(ms):.0f} | {max(ms):.0f} |"
    )


def _engine(case: Case, objective: Objective, limit_ms: int) -> Outcome:
    start = time.process_time()
    answer = wrung.solve(
        case.blocks, case.targets, objective=objective, joint_allowance=0, time_limit_ms=limit_ms
    )
    ms = (time.process_time() - start) * 1000
    fewest, stacks = objective == "fewest_blocks", answer.stacks
    reached = (
        sum(len(stack.blocks) for stack in stacks)
        if fewest
        else max((stack.worst_case_error for stack in stacks), default=0)
    )
    bounds = answer.bounds
    bound = bounds.total_blocks if fewest else bounds.largest_worst_case_error
    value = (len(case.targets) - len(stacks), reached)
    return Outcome(ms=ms, proven=answer.proven and bound == reached, value=value)


def _general(case: Case, objective: Objective, limit_ms: int, backend: str) -> Outcome:
    start = time.process_time()
    found = PlainModel(case, objective, backend).solve(limit_ms)
    ms = (time.process_time() - start) * 1000
    return Outcome(ms=ms, proven=found.proven, value=found.value)


if __name__ == "__main__":
    main()
