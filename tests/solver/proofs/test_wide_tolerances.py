"""Tolerances with more lengths than there may be starts: what is claimed of all plans holds."""

from collections import Counter
from collections.abc import Sequence
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.proofs.agreement import (
    AMPLE_MS,
    assert_no_bound_above,
    assert_proven,
    assert_rules,
    exhaustive,
    report,
)
from solver.proofs.test_three_searches import CASES
from solver.proofs.whole_requests import WholeRequest, whole_requests
from wrung import Block, LengthTarget, Tolerance, mm, solve, um
from wrung.deadline import Deadline
from wrung.metrology.error_measure import ErrorMeasure
from wrung.planning import engine
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.workbench import set_up
from wrung.tuning import Tuning

pytestmark = pytest.mark.long

FEW: Final = 6
"""Starts for each stack: fewer than the lengths in most of these windows."""
WIDTHS: Final = ("0", "0.5", "2", "20", "200")
"""To either side, µm."""


def test_the_cheapest_starts_lead_to_the_best_plans_of_all() -> None:
    """Nothing false is claimed; where no other start can be in a better plan, it is proven."""
    seen: Counter[str] = Counter()

    @settings(max_examples=CASES // 4)
    @given(whole_requests(), st.lists(st.sampled_from(WIDTHS), min_size=4, max_size=4))
    def cheapest(request: WholeRequest, widths: list[str]) -> None:
        request = with_windows(request, widths)
        problem = request.problem()
        few = FEW * len(problem.demands)
        deadline = Deadline(AMPLE_MS, tuning=Tuning(most_starts=few, most_splits=few))
        found = engine.search(problem, deadline)
        if found is None or set_up(problem, by_error(problem), deadline) is not None:
            seen["without"] += 1
            return
        wanted = exhaustive(request, problem.demands)
        if found.objective_proven:
            assert_proven(problem, found, wanted)
            seen["proven"] += 1
            return
        assert_no_bound_above(found, wanted)
        if found.plan is not None:
            assert_rules(problem, found.plan)
        seen["not proven"] += 1

    cheapest()

    report(seen)
    assert seen["proven"] >= 0.01 * CASES


def with_windows(request: WholeRequest, widths: Sequence[str]) -> WholeRequest:
    """Its plain lengths with tolerances."""
    targets = tuple(
        replace(target, tolerance=Tolerance(lower=-um(width), upper=um(width)))
        if isinstance(target, LengthTarget)
        else target
        for target, width in zip(request.targets, widths, strict=False)
    )
    return replace(request, targets=targets)


def test_a_wide_window_leaves_room_for_the_starts_of_an_exact_length() -> None:
    """Its own starts cost next to nothing and fill all the room before those of 17.595 mm come."""
    coarse = "1.47 1.48 1.49 4 4.5 5 6.5 7 7.5 8 8.5 9 9.5 10 20"
    fine = "1 1.0005 1.001 1.002 1.007 1.008 1.009 1.01 1.02 1.03 1.04 1.05 1.06 1.07 1.08 1.09"
    blocks = tuple(
        Block(id=f"{grade}/{text}", nominal=mm(text), grade=grade)
        for grade, own in (("2", coarse), ("1", fine))
        for text in own.split()
    )
    wide = Tolerance(lower=-mm("100"), upper=mm("100"))
    targets = (
        LengthTarget(ref="wide", length=mm("2.013"), tolerance=wide),
        LengthTarget(ref="exact", length=mm("17.595"), max_blocks=5),
    )
    uncertain = ErrorMeasure(kind="expanded_uncertainty", corrected=True)

    for order in (targets, targets[::-1]):
        answer = solve(blocks, order, objective="least_error", error_measure=uncertain)
        assert len(answer.stacks) == answer.bounds.served == 2
