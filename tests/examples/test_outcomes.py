"""The example requests have the outcomes that examples/README.md promises."""

import json
import re
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from patience import PATIENCE_S

EXAMPLES = Path(__file__).parents[2] / "examples"
ROW = re.compile(r"^\| \[(?P<name>[a-z-]+)\.json\].*?\| `(?P<outcome>[a-z]+)` \|", re.MULTILINE)


def promised() -> dict[str, str]:
    """The outcome of each request, from the table of examples/README.md."""
    text = (EXAMPLES / "README.md").read_text(encoding="utf-8")
    return {row["name"]: row["outcome"] for row in ROW.finditer(text)}


def answer(address: str, name: str) -> dict[str, Any]:
    """What the service says to an example request."""
    message = urllib.request.Request(  # noqa: S310 - our own server
        f"{address}/v1/stacks",
        data=(EXAMPLES / "requests" / f"{name}.json").read_bytes(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(message, timeout=PATIENCE_S) as response:  # noqa: S310 - our own server
        return dict(json.load(response))


def test_the_table_names_every_request_and_every_outcome() -> None:
    requests = {path.stem for path in (EXAMPLES / "requests").glob("*.json")}
    assert set(promised()) == requests
    assert set(promised().values()) == {"optimal", "feasible", "partial", "infeasible", "unknown"}


@pytest.mark.parametrize("name", sorted(set(promised()) - {"feasible"}))
def test_outcome(name: str, address: str) -> None:
    assert answer(address, name)["outcome"] == promised()[name]


def test_feasible_has_every_stack_and_no_proof_unless_the_time_was_enough(address: str) -> None:
    found = answer(address, "feasible")
    assert found["unmet"] == []
    assert found["outcome"] == ("optimal" if found["objective_proven"] else "feasible")


def test_optimal_wrings_an_inch_block_to_a_metric_one(address: str) -> None:
    """0.5 in = 12.7 mm exactly (the international inch)."""
    stack = answer(address, "optimal")["stacks"][1]
    assert {block.get("unit", "mm") for block in stack["blocks"]} == {"in", "mm"}
    assert stack["nominal"] == "13.705"


def test_the_traveller_is_served_once_the_block_it_lacks_is_there(address: str) -> None:
    found = answer(address, "traveller")
    assert (len(found["stacks"]), found["proven"]) == (6, True)
    assert len(found["shortage"]["conflict"]) == 2
    assert len(found["shortage"]["blocks_to_add"]) == 1


def test_infeasible_gives_the_nearest_lengths(address: str) -> None:
    """By hand: no block but the 0.1001 to 0.1009 has a fourth decimal, and 0.1001 + 0.05 > 0.1011.

    Under 0.1011 stands the 0.101, over it the 0.102, each a block of the set.
    """
    shim = answer(address, "infeasible")["unmet"][0]
    assert (shim["nearest_below"]["length"], shim["nearest_above"]["length"]) == ("0.101", "0.102")
