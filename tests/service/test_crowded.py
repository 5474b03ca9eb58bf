"""Two requests that were once answered with a problem, as their bounds did not fit their plans."""

import json
from pathlib import Path
from typing import Any

import pytest

import wrung
from service.conftest import LogBook, Start
from wrung import Block, LengthTarget, inch, uin

REQUESTS = ("20-of-2", "40-of-4")


def crowded(name: str) -> dict[str, Any]:
    """So many targets of so many inch sets, whose blocks of the fourth decimal they contend for."""
    return json.loads((Path(__file__).parent / "crowded" / f"{name}.json").read_text())  # type: ignore[no-any-return]  # a body


@pytest.mark.long
@pytest.mark.parametrize("name", REQUESTS)
def test_a_crowded_request_is_answered(name: str, start: Start, log_book: LogBook) -> None:
    """Over HTTP, within its 10 s, and with no claim taken back."""
    body = crowded(name)
    response = start().post("/v1/stacks", json=body)

    assert response.status_code == 200
    answer = response.json()
    assert answer["outcome"] in {"partial", "feasible", "optimal"}
    assert answer["bounds"]["served"]["stacks"] >= len(answer["stacks"]) > len(body["targets"]) // 2
    assert not log_book.lines("claims_refused")


@pytest.mark.long
@pytest.mark.parametrize("name", REQUESTS)
def test_a_crowded_request_passes_the_checker(name: str) -> None:
    """The same by the library."""
    body = crowded(name)
    blocks = [
        Block(
            id=block["id"],
            nominal=inch(block["nominal"]),
            deviation=_uin(block.get("deviation")),
            expanded_uncertainty=_uin(block.get("expanded_uncertainty")),
            limit_deviation=_uin(block.get("limit_deviation")),
            unit="in",
        )
        for block in body["blocks"]
    ]
    targets = [LengthTarget(ref=t["ref"], length=inch(t["length"])) for t in body["targets"]]
    answer = wrung.solve(blocks, targets, joint_allowance=0, time_limit_ms=body["time_limit_ms"])

    assert answer.stacks
    assert not wrung.verify(blocks, targets, answer, joint_allowance=0)


def _uin(text: str | None) -> int | None:
    return None if text is None else uin(text)
