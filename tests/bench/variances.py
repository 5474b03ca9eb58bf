"""What it costs to compare variances, and to make a full budget: ratios of CPU times in one run.

    python -m tests.bench.variances [--requests FILE] [--family NAME]... [--seed N] [--count N]

Each request is solved as it is, then by variance, corrected and uncorrected, one after the other,
so that a busy machine slows all alike. Then every stack found gets its budget.
"""

import argparse
import json
import time
from collections.abc import Iterable, Mapping
from pathlib import Path
from statistics import median
from typing import Final

from msgspec import Struct

from wrung.metrology import stack_budget

from . import library, sources

OWN = Path(__file__).parent / "families.py"
MEASURES: Final[Mapping[str, Mapping[str, object]]] = {
    "plain": {},
    "corrected": {"error_measure": {"kind": "expanded_uncertainty", "corrected": True}},
    "uncorrected": {"error_measure": {"kind": "expanded_uncertainty"}},
}


class Timed(Struct, frozen=True, kw_only=True):
    """CPU times of a family's requests by one measure, and how many were proven."""

    ms: tuple[float, ...]
    proven: int

    def line(self, name: str, plain: "Timed") -> str:
        """Sum and median, and their ratios to those of the plain requests."""
        total, middle = sum(self.ms) / sum(plain.ms), median(self.ms) / median(plain.ms)
        return (
            f"{name:12} {median(self.ms):9.1f} {sum(self.ms):9.1f} {middle:7.2f} {total:7.2f}"
            f" {self.proven:4}/{len(self.ms)}"
        )


def main() -> None:
    """Measure and print."""
    arguments = _arguments()
    families = sources.generated(
        arguments.requests, families=arguments.family, seed=arguments.seed, count=arguments.count
    )
    _solved(next(iter(families.values()))[:1])  # loads the solver
    print(f"{'':12} {'CPU, ms':>19} {'ratio to plain':>15}")
    print(f"{'by':12} {'median':>9} {'sum':>9} {'median':>7} {'sum':>7}  proven")
    for name, bodies in families.items():
        print(name)
        measured = _solved(bodies)
        for measure, timed in measured.items():
            print(timed.line(measure, measured["plain"]), flush=True)
    print(f"a budget takes {_budget_ms(next(iter(families.values()))):.3f} ms a stack")


def _solved(bodies: Iterable[bytes]) -> Mapping[str, Timed]:
    times: dict[str, list[tuple[float, bool]]] = {name: [] for name in MEASURES}
    for body in bodies:
        for name, more in MEASURES.items():
            request = json.dumps({**json.loads(body), **more}).encode()
            start = time.process_time()
            (sample,) = library.samples([request])
            times[name].append(((time.process_time() - start) * 1000, sample.proven))
    return {
        name: Timed(ms=tuple(ms for ms, _ in own), proven=sum(proven for _, proven in own))
        for name, own in times.items()
    }


def _budget_ms(bodies: Iterable[bytes]) -> float:
    """CPU time of one full budget, the mean over the stacks of the requests."""
    stacks = [stack for body in bodies for stack in library.stacks(body)]
    start = time.process_time()
    for blocks, length in stacks:
        stack_budget(blocks, target=length)
    return (time.process_time() - start) * 1000 / len(stacks)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.variances",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--requests", type=Path, default=OWN, metavar="FILE")
    parser.add_argument("--family", action="append", default=[], metavar="NAME")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=10)
    return parser.parse_args()


if __name__ == "__main__":
    main()
