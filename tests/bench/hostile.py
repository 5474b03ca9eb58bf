"""Put the service under attack and under load, and tell how soon it says that it is alive.

    python -m tests.bench.hostile

On loopback, about a minute, every loop bounded. A table goes to standard output, in Markdown, for
``deploy/RESULTS.md``. It ends with 1 if any answer was 500, or if the service did not end well.
"""

import os
import sys
import time

from .attacks import CASES, Answers, Case
from .probe import LATENCY_HEAD, Latencies, probing
from .server import Server, running

_SETTINGS = {"WRUNG_DRAIN_SECONDS": "2", "WRUNG_GRACE_SECONDS": "8"}
_HEAD = (
    f"| case | answers | probes | {LATENCY_HEAD} "
    "| memory at most, MB |\n| --- | --- | ---: | ---: | ---: | ---: | ---: |"
)


def main() -> int:
    """Run all cases against one server, and print."""
    load, cpus = os.getloadavg()[0], os.cpu_count()
    print(f"Measured on {time.strftime('%Y-%m-%d')}, {cpus} CPUs, load {load:.1f} before.\n")
    print(_HEAD, flush=True)
    failed = False
    with running(settings=_SETTINGS) as server:
        for name, case in CASES:
            failed |= _run(name, case, server)
    return int(failed)


def _run(name: str, case: Case, server: Server) -> bool:
    """Run a case and print its row; whether the service failed."""
    with probing(server.port) as probe:
        answers = case(server)
        peak = server.peak_megabytes()
    print(_row(name, answers, probe.latencies, peak), flush=True)
    return any(status.startswith("5") and status not in ("501", "503") for status in answers)


def _row(name: str, answers: Answers, seen: Latencies, peak: float) -> str:
    told = (
        ", ".join(f"{count} times {status}" for status, count in sorted(answers.items())) or "none"
    )
    probes = f"{len(seen.answers)}" + (f", {seen.failures} failed" if seen.failures else "")
    return " | ".join(("| " + name, told, probes, seen.cells(), f"{peak:.0f} |"))


if __name__ == "__main__":
    sys.exit(main())
