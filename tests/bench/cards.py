"""Time the cards and the set-up sheet of a traveller of forty operations, warm.

    python -m tests.bench.cards [--operations N] [--rounds N]

CPU time beside that of `POST /v1/stacks` for the same traveller, in one process and one run.
"""

import argparse
import json
import statistics
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import msgspec
from litestar.testing import TestClient

from wrung_service.api.cards.printing import Address, CardsWanted, print_cards
from wrung_service.api.cards.typesetting import FORMATS
from wrung_service.api.records.reading import RecordReader
from wrung_service.api.records.shape import StackRecord
from wrung_service.app import create_app
from wrung_service.settings import Settings

_ADDRESS = Address(text="https://crib.example/v1/plans/5b0c1c2b6d0f4f0f9e3a7d1c2b3a4f5e")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.cards", description=__doc__)
    parser.add_argument("--operations", type=int, default=40)
    parser.add_argument("--rounds", type=int, default=7)
    asked = parser.parse_args()
    body, settings = _traveller(asked.operations), Settings()
    with TestClient(create_app(settings)) as client:
        answer = client.post("/v1/stacks", json={**body, "record": True}).json()
        stacks = _median(asked.rounds, lambda: client.post("/v1/stacks", json=body))
    record = msgspec.json.decode(json.dumps(answer["record"]), type=StackRecord)
    read = RecordReader(settings.limits)
    print("| format | CPU, ms | elapsed, ms | CPU over that of the stacks |")
    print("| --- | ---: | ---: | ---: |")
    for paper in FORMATS:
        wanted = CardsWanted(format=paper, job="4471", page=1, as_picture=False)
        cpu, elapsed = _median(asked.rounds, partial(print_cards, record, wanted, _ADDRESS, read))
        print(f"| {paper} | {cpu:.0f} | {elapsed:.0f} | {cpu / stacks[0]:.1f} |")


def _median(rounds: int, done: Callable[[], object]) -> tuple[float, float]:
    """CPU time and elapsed time, ms; the first round, which warms up, does not count."""
    cpu: list[float] = []
    elapsed: list[float] = []
    for _ in range(rounds + 1):
        before, began = time.process_time(), time.perf_counter()
        done()
        cpu.append(1000 * (time.process_time() - before))
        elapsed.append(1000 * (time.perf_counter() - began))
    return statistics.median(cpu[1:]), statistics.median(elapsed[1:])


def _traveller(count: int) -> dict[str, Any]:
    targets = [
        {"ref": f"{10 * n}", "kind": "length", "length": f"{20 + n}.{n:02}5"}
        for n in range(1, count + 1)
    ]
    sets = [{"id": "M", "composition": "metric-112-1", "grade": "1"}]
    return {"unit": "mm", "sets": sets, "targets": targets, "timing": "in_turn"}


if __name__ == "__main__":
    main()
