"""Every outcome of the contract, as it stands on the wire."""

import json
import re
from collections.abc import Sequence
from pathlib import Path

import msgspec

import wrung
from service.bodies import block, request, target
from service.conftest import Client, Start
from service.doubles import Solver, undecided
from wrung import Answer, Block, Bounds, Objective, Target
from wrung.texts import phrase, word
from wrung_service.api.page_words import said_in
from wrung_service.api.problem_types import NOT_DECIDED
from wrung_service.commands.status import after_help

BLOCKS = [block("a", "0.1001"), block("b", "1"), block("c", "2")]


class Hurried(Solver):
    """Finds a plan and proves nothing: what a solver may do within its time."""

    def answer(
        self, blocks: Sequence[Block], targets: Sequence[Target], objective: Objective
    ) -> Answer:
        """The best plan, said to be merely one."""
        answer = wrung.solve(blocks, targets, objective=objective, joint_allowance=0)
        return msgspec.structs.replace(
            answer,
            outcome="feasible",
            proven=False,
            objective_proven=False,
            bounds=Bounds(served=len(targets), total_blocks=1),
        )


def test_no_words_say_that_time_ended_a_search() -> None:
    """It may end long before its limit, where it has nothing more to try, as `Hurried` does."""
    document = json.loads((Path(__file__).parents[2] / "service" / "openapi.json").read_text())
    outcome = document["components"]["schemas"]["StackAnswer"]["properties"]["outcome"]
    page = said_in("bench", "de")
    said = [
        outcome["description"].partition(" A search ends at")[0],
        NOT_DECIDED.title,
        after_help(),
        word(phrase("printed.not_proven")),
        word(phrase("printed.not_proven"), "de"),
        said_in("bench", "en")("proven.unknown"),
        page("proven.unknown"),
    ]

    assert not [each for each in said if re.search(r"\btime (?!limit)|time limit ended|Zeit", each)]


def test_optimal(client: Client) -> None:
    """Every target served, proven best."""
    answer = client.post("/v1/stacks", json=request()).json()

    assert (answer["outcome"], answer["proven"]) == ("optimal", True)
    assert answer["objective_proven"] is True


def test_partial(client: Client) -> None:
    """Both want the last digit of the one block that has it; the most are served, and proven so."""
    targets = [target("one", "1.1001"), target("two", "2.1001")]

    answer = client.post("/v1/stacks", json=request(blocks=BLOCKS, targets=targets)).json()

    assert (answer["outcome"], answer["proven"]) == ("partial", True)
    assert (answer["served"], answer["bounds"]["served"]) == ({"stacks": 1, "targets": 1},) * 2
    assert [unmet["reason"] for unmet in answer["unmet"]] == ["blocks_in_use"]


def test_infeasible(client: Client) -> None:
    """Nothing can be built, and that is an answer."""
    body = request(blocks=BLOCKS, targets=[target("t", "0.7")])

    answer = client.post("/v1/stacks", json=body).json()

    assert (answer["outcome"], answer["proven"]) == ("infeasible", True)
    assert (answer["stacks"], answer["total_blocks"]) == ([], 0)
    assert answer["largest_worst_case_error"] == answer["total_worst_case_error"] == "0"
    assert [unmet["reason"] for unmet in answer["unmet"]] == ["cannot_be_built"]


def test_feasible(start: Start) -> None:
    """Served, but not proven best within the time; the bound says what is known."""
    answer = start(solve=Hurried()).post("/v1/stacks", json=request()).json()

    assert (answer["outcome"], answer["proven"], answer["total_blocks"]) == ("feasible", False, 2)
    assert answer["bounds"] == {
        "served": {"stacks": 1, "targets": 1},
        "total_blocks": 1,
        "largest_worst_case_error": None,
        "total_worst_case_error": None,
    }


def test_unknown(start: Start) -> None:
    """The time limit ended first; that is an answer, too."""
    answer = start(solve=Solver()).post("/v1/stacks", json=request()).json()

    assert undecided([]).outcome == answer["outcome"] == "unknown"
    assert (answer["proven"], answer["bounds"]["served"]["stacks"]) == (False, 1)
    assert [unmet["reason"] for unmet in answer["unmet"]] == ["not_decided"]
    assert answer["diagnostics"] == {"engine": None}
