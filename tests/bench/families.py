"""Invented benchmark requests, one JSON body a line: families.py FAMILY --seed 1 --count 10.

Any script that takes the same arguments (`--list` names the families) can stand in its place.
"""

import argparse
import json
import random
from decimal import Decimal
from typing import Any, NamedTuple


class Family(NamedTuple):
    """Requests of one kind: sets on the shelf, how many targets, their range in steps."""

    unit: str
    compositions: tuple[str, ...]
    grade: str
    targets: int
    low: int
    high: int
    step: str
    objective: str = "fewest_blocks"


FAMILIES = {
    "inch-1": Family("in", ("inch-81",), "AS-1", 1, 3000, 40000, "0.0001"),
    "inch-6": Family("in", ("inch-81",), "AS-1", 6, 3000, 20000, "0.0001"),
    "inch-6-error": Family("in", ("inch-81",), "AS-1", 6, 3000, 20000, "0.0001", "least_error"),
    "inch-14-short": Family("in", ("inch-81",), "AS-1", 14, 3000, 20000, "0.0001"),
}


def request(family: Family, rng: random.Random) -> dict[str, Any]:
    """One request body."""
    lengths = [rng.randrange(family.low, family.high) for _ in range(family.targets)]
    return {
        "unit": family.unit,
        "sets": [
            {"id": f"set-{number}", "composition": name, "grade": family.grade}
            for number, name in enumerate(family.compositions, 1)
        ],
        "targets": [
            {"ref": f"op{number}0", "kind": "length", "length": str(length * Decimal(family.step))}
            for number, length in enumerate(lengths, 1)
        ],
        "objective": family.objective,
        "time_limit_ms": 10_000,
    }


def main() -> None:
    """Print the requests asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("family", nargs="?", choices=FAMILIES)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=1)
    parser.add_argument("--list", action="store_true")
    arguments = parser.parse_args()
    if arguments.list or not arguments.family:
        print("\n".join(FAMILIES))
        return
    rng = random.Random(f"{arguments.family}/{arguments.seed}")
    for _ in range(arguments.count):
        print(json.dumps(request(FAMILIES[arguments.family], rng)))


if __name__ == "__main__":
    main()
