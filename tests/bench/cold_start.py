"""From the start of `wrung serve` to its first answer, a stack.

    python -m tests.bench.cold_start [--starts N]

A start before the others leaves compiled bytecode behind, as there is in the image. It fails if
even the least CPU time of the others is more than `MOST_S`; as other work on the machine must not
fail it, elapsed time is only printed. Linux only.
"""

import argparse
import json
import sys
import time
from typing import Final
from urllib.request import Request, urlopen

from .server import running

MOST_S: Final = 1.5
_BYTECODE_KEPT: Final = {"PYTHONDONTWRITEBYTECODE": ""}
_REQUEST: Final = {
    "unit": "in",
    "sets": [{"id": "a", "composition": "inch-81", "grade": "AS-1"}],
    "targets": [{"ref": "op10", "kind": "length", "length": "0.9412"}],
}


def main() -> None:
    """Start it again and again, print, judge."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.cold_start")
    parser.add_argument("--starts", type=int, default=5)
    starts = parser.parse_args().starts
    _started()
    found = [_started() for _ in range(starts)]
    print("| starts | CPU time, s | elapsed, s |\n| ---: | ---: | ---: |")
    spans = (f"{min(of):.2f} to {max(of):.2f}" for of in zip(*found, strict=True))
    print(f"| {starts} | " + " | ".join(spans) + " |")
    if min(cpu for cpu, _ in found) > MOST_S:
        sys.exit(f"more than {MOST_S} s")


def _started() -> tuple[float, float]:
    """CPU and elapsed time to the first answer, s."""
    start = time.monotonic()
    with running(settings=_BYTECODE_KEPT) as server:
        body = json.dumps(_REQUEST).encode()
        head = {"Content-Type": "application/json"}
        with urlopen(Request(f"{server.address}/v1/stacks", body, head)) as answer:  # noqa: S310 - our own address
            json.load(answer)
        return server.cpu_seconds(), time.monotonic() - start


if __name__ == "__main__":
    main()
