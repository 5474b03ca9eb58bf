"""The engine of candidate stacks, the direct model and an exhaustive search come to the same end.

`WRUNG_CANDIDATE_CASES=20000` tries more requests than the usual 2,000.
"""

import os
from collections import Counter
from typing import Final

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from solver.oracle import by_priority
from solver.proofs.agreement import (
    AMPLE_MS,
    assert_no_bound_above,
    assert_proven,
    beyond_the_tables,
    exhaustive,
    is_contended,
    report,
    several_grids,
)
from solver.proofs.whole_requests import WholeRequest, chosen, options_of, whole_requests
from wrung.deadline import Deadline
from wrung.planning import direct, engine
from wrung.tuning import TUNING, Tuning

pytestmark = pytest.mark.long

CASES: Final = int(os.environ.get("WRUNG_CANDIDATE_CASES", "2000"))
LEAST_SHARE: Final = 0.02
"""Of the requests, for each of the options and outcomes."""
NEVER_ALL_LISTED: Final = Tuning(few_candidates=0, most_candidates=0)
"""Shelves this small would seldom get beyond the choice among all candidates."""
OPTIONS: Final = (
    *("fewest_blocks", "least_error", "1 stacks", "2 stacks", "3 stacks", "4 stacks"),
    *("certified", "no certificate", "negative deviation", "joint allowance", "many blocks"),
    *("exclude", "only", "mixed units", "several sets", "window", "max blocks"),
    *("one wear block", "two wear blocks", "times", "sequence"),
    *("measure worst_case", "measure expanded_uncertainty", "corrected", "unequal limits"),
    *("several grids", "several grids, contended", "priorities", "priority decides"),
    *("step block", "required ratio", "all served", "some served", "none served", "contended"),
)


def test_three_searches_agree_whatever_is_asked() -> None:
    """Number served and all values of the objective; and every option is really met."""
    seen: Counter[str] = Counter()

    @settings(max_examples=CASES)
    @given(whole_requests())
    def agree(request: WholeRequest) -> None:
        seen.update(["requests", *options_of(request), *compare(request)])

    agree()

    report(seen)
    few = {name: seen[name] for name in OPTIONS if seen[name] < LEAST_SHARE * CASES}
    assert not few
    # It may pass for a few only: no gauge blocks, lengths without a step.
    assert seen["engine"] >= 0.9 * CASES
    assert seen["contended, engine"] >= 0.9 * seen["contended"]
    assert seen["contended, engine"] >= 0.2 * CASES


def compare(request: WholeRequest) -> list[str]:
    """Hold the searches to one another; names of what came out, to be counted."""
    problem = request.problem()
    wanted = exhaustive(request, problem.demands)
    found = None
    for tuning in (TUNING, NEVER_ALL_LISTED):
        found = engine.search(problem, Deadline(AMPLE_MS, tuning=tuning))
        if found is None or not found.objective_proven:
            assert beyond_the_tables(problem)
        if found is not None and not found.objective_proven:
            assert_no_bound_above(found, wanted)
        elif found is not None:
            assert_proven(problem, found, wanted)
    assert_proven(problem, direct.search(problem, Deadline(AMPLE_MS)), wanted)
    unranked = tuple(
        replace(d, requirement=replace(d.requirement, priority=None)) for d in problem.demands
    )
    alone = [exhaustive(request, (demand,)) for demand in problem.demands]
    contended, grids = is_contended(wanted, alone), several_grids(problem)
    return chosen(
        {
            "all served": None not in wanted.plan,
            "some served": None in wanted.plan and wanted.served > 0,
            "none served": not wanted.served,
            "contended": contended,
            # Without priorities, other stacks would be served.
            "priority decides": by_priority(
                [demand.requirement for demand in problem.demands],
                [stack is not None for stack in exhaustive(request, unranked).plan],
            )
            != wanted.by_priority,
            "engine": found is not None,
            "contended, engine": contended and found is not None,
            "several grids": grids,
            "several grids, contended": contended and grids,
        }
    )
