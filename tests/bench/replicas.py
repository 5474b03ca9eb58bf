"""Three replicas, two workers of batches and one PostgreSQL behind a real balancer, in trouble.

    python -m tests.bench.replicas kill end database network clock disk
    python -m tests.bench.replicas overload
    python -m tests.bench.replicas soak --minutes 30

Clients make plans, ask for stacks and cards, and send batches all the time; each sends its request
again until it is answered. Afterwards every request must have had one answer, and the database
must hold exactly the plans and answers that clients were told of. Each command prints a table for
deploy/RESULTS.md and fails where something does not add up. What it needs of Debian's packages it
installs as root; else it says what is missing. The balancer is haproxy; with BALANCER=nginx in the
environment it is that.
"""

import argparse
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from postgres import programs

from .cluster import overload, soak, suffering
from .cluster.balancer import NAME, balancer
from .cluster.troubles import TROUBLES
from .crib.trouble import may_mount

_MOST_MB = 15.0
"""More growth than that from the middle to the last third of a soak is a leak."""


def main() -> int:
    """Do what is asked for."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.replicas",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("what", nargs="+", choices=[*TROUBLES, "overload", "soak"])
    parser.add_argument("--minutes", type=float, default=30)
    asked = parser.parse_args()
    if missing := _missing(asked.what):
        print("missing: " + "; ".join(missing), file=sys.stderr)
        return 2
    load = os.getloadavg()[0]
    print(f"{time.strftime('%Y-%m-%d')}, {os.cpu_count()} CPUs, load {load:.0f} before.\n")
    if troubles := [each for each in asked.what if each in TROUBLES]:
        print(suffering.HEAD, flush=True)
        for row in suffering.suffered(troubles):
            print(row, flush=True)
    if "overload" in asked.what:
        print(f"{overload.HEAD}\n{overload.overloaded()}", flush=True)
    if "soak" in asked.what:
        print(soak.HEAD, *soak.soaked_rows(asked.minutes, _MOST_MB), sep="\n", flush=True)
    return 0


def _missing(what: list[str]) -> list[str]:
    """What is not there and cannot be installed."""
    lacking = _lacking()
    if lacking and os.name == "posix" and os.geteuid() == 0 and shutil.which("apt-get"):
        command = ["apt-get", "install", "-y", "-qq", "--no-install-recommends", *lacking]
        subprocess.run(command, stdout=sys.stderr, check=False)  # noqa: S603 - no shell
    missing = [f"Debian's package {package}" for package in _lacking()]
    if "disk" in what and not may_mount():
        missing.append("the right to mount a small disk")
    return missing


def _lacking() -> list[str]:
    there: dict[str, object] = {"postgresql": programs(), NAME: balancer()}
    return [package for package, found in there.items() if found is None]


if __name__ == "__main__":
    sys.exit(main())
