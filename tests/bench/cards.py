"""Time the cards and the set-up sheet of a traveller of forty operations, warm.

    python -m tests.bench.cards [--operations N] [--rounds N]

CPU time, that of the typesetter's process included, beside that of `POST /v1/stacks` for the same
traveller, in one run. Every round prints another traveller, so that nothing is there already.
"""

import argparse
import itertools
import os
import statistics
import time
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, get_args

import msgspec
from litestar.testing import TestClient

from wrung_service.api.cards.printing import Address, CardsWanted, print_cards
from wrung_service.api.cards.typesetting import FORMATS, CardMedia
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
    bodies = [_traveller(asked.operations, shift) for shift in range(asked.rounds + 1)]
    settings = Settings()
    with TestClient(create_app(settings)) as client:
        answers = [client.post("/v1/stacks", json={**b, "record": True}).json() for b in bodies]
        stacks = _median([partial(client.post, "/v1/stacks", json=body) for body in bodies])
    records = [msgspec.convert(answer["record"], StackRecord) for answer in answers]
    read = RecordReader(settings.limits)
    print("| format | CPU, ms | elapsed, ms | CPU over that of the stacks |")
    print("| --- | ---: | ---: | ---: |")
    for paper in FORMATS:
        for media in get_args(CardMedia):
            wanted = CardsWanted(format=paper, media=media, job="4471")
            cpu, elapsed = _median(
                [partial(print_cards, record, wanted, _ADDRESS, read) for record in records]
            )
            name = f"{paper}, {media}"
            print(f"| {name} | {cpu:.0f} | {elapsed:.0f} | {cpu / stacks[0]:.1f} |")


def _median(rounds: Sequence[Callable[[], object]]) -> tuple[float, float]:
    """CPU time and elapsed time, ms; the first round, which warms up, does not count."""
    cpu: list[float] = []
    elapsed: list[float] = []
    for done in rounds:
        before, began = os.times(), time.perf_counter()
        done()
        # All but the elapsed time: of this process and of those that it waited for.
        cpu.append(
            1000
            * sum(
                now - then
                for now, then in itertools.islice(zip(os.times(), before, strict=True), 4)
            )
        )
        elapsed.append(1000 * (time.perf_counter() - began))
    return statistics.median(cpu[1:]), statistics.median(elapsed[1:])


def _traveller(count: int, shift: int) -> dict[str, Any]:
    targets = [
        {"ref": f"{10 * n}", "kind": "length", "length": f"{n + shift}.{(n + 7 * shift) % 100:02}5"}
        for n in range(20, 20 + count)
    ]
    sets = [{"id": "M", "composition": "metric-112-1", "grade": "1"}]
    return {"unit": "mm", "sets": sets, "targets": targets, "timing": "in_turn"}


if __name__ == "__main__":
    main()
