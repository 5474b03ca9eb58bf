"""Inspection planning: a plan of characteristics in, a stack for each and a record to be kept out.

The plan is a table as an inspection planning system exports it. Its characteristics are taken in
turn, each on the whole shelf. Without a service: the command `wrung solve` does the work, so the
Python that runs this needs `wrung` without its extra. The shop, its sets and its part are invented.

    python examples/inspection_plan.py examples/inspection/plan.csv --record record.json
    wrung check record.json
"""

import argparse
import csv
import json
import subprocess
import sys
from collections.abc import Iterable
from decimal import Decimal
from pathlib import Path
from typing import Any

PLAN = Path(__file__).parent / "inspection" / "plan.csv"
SHELF = [
    {
        "id": "inspection-88",
        "composition": "metric-88",
        "grade": "0",
        "material": "steel",
        "calibration": {
            "certificate": "LC-2026-0702",
            "laboratory": "Lindenau",
            "calibrated_on": "2026-04-20",
            "due_on": "2027-04-20",
        },
    },
    {"id": "bench-47", "composition": "metric-47-a", "grade": "1", "material": "steel"},
]
BAR = {"centre_distance": "100", "expanded_uncertainty": "1"}


def main() -> int:
    """Print a line for each characteristic; end as `wrung solve` does."""
    options = argparse.ArgumentParser(description="Plan stacks for a plan of characteristics.")
    options.add_argument("plan", nargs="?", type=Path, default=PLAN)
    options.add_argument("--record", type=Path, help="where the record goes")
    asked = options.parse_args()
    with asked.plan.open(encoding="utf-8-sig", newline="") as file:
        request = request_of(csv.DictReader(file))
    command = [sys.executable, "-m", "wrung_service", "solve", "--json"]
    done = subprocess.run(command, input=json.dumps(request).encode(), stdout=-1, check=False)  # noqa: S603 - our own
    if not done.stdout:
        return done.returncode  # refused, and standard error has said why
    answer = json.loads(done.stdout)
    print("\n".join(lines(answer)))
    if asked.record:
        # As `wrung check` and POST /v1/stack-checks take it.
        kept = {"record": answer["record"]}
        asked.record.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    return done.returncode


def request_of(plan: Iterable[dict[str, str]]) -> dict[str, Any]:
    """The request for all characteristics, one after another."""
    return {
        "unit": "mm",
        "sets": SHELF,
        "targets": [target_of(row) for row in plan],
        "timing": "in_turn",
        "conditions": {"used_on": "2026-11-25", "temperature": {"value": 20.5, "limits": 0.5}},
        "record": True,
        "time_limit_ms": 10_000,
    }


def target_of(row: dict[str, str]) -> dict[str, Any]:
    """The target of one characteristic, in the terms of its kind."""
    labels = {"characteristic": row["characteristic"], "feature": row["feature"]}
    ref = f"{row['characteristic']} {row['feature']}"
    return {"ref": ref, "kind": row["kind"], "labels": labels, **members_of(row)}


def members_of(row: dict[str, str]) -> dict[str, Any]:
    """What a target of its kind is made of."""
    match row["kind"]:
        case "limits":
            return {"lower": row["lower"], "upper": row["upper"]}
        case "fit":
            return {"nominal": row["nominal"], "tolerance_class": row["class"]}
        case "general_tolerance":
            return {"nominal": row["nominal"], "general_class": row["class"]}
        case "sine":
            return {"bar": BAR, "angle": row["angle"]}
        case "comparison":
            deviations = {f"{end}_deviation": micrometres(row[end]) for end in ("lower", "upper")}
            return {"nominal": row["nominal"], **deviations}
        case _:
            return {"length": row["nominal"]}


def micrometres(millimetres: str) -> str:
    """Deviations are in the small unit; only the point moves, so nothing is rounded."""
    return f"{Decimal(millimetres) * 1000:f}"


def lines(answer: dict[str, Any]) -> Iterable[str]:
    """A line for each stack, then for what could not be had, then how it ended."""
    for stack in answer["stacks"]:
        role = f" {stack['role']}" if stack["role"] else ""
        blocks = " + ".join(block["nominal"] for block in stack["blocks"])
        error = f"± {stack['worst_case_error']} µm"
        yield f"{stack['target'] + role:32} {stack['nominal']:>9} mm  {error:>12}  {blocks}"
    for unmet in answer["unmet"]:
        yield f"{unmet['target']:32} no stack: {unmet['detail']}"
    yield f"{answer['outcome']}: {len(answer['stacks'])} stacks, {answer['total_blocks']} blocks"


if __name__ == "__main__":
    sys.exit(main())
