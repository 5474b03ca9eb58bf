"""Answers as a whole: outcome, figures and reasons, held to an exhaustive search."""

from collections import Counter
from typing import Final

import pytest
from hypothesis import given, settings

from solver.oracle import by_priority
from solver.proofs.agreement import AMPLE_MS, assert_served_bounds, exhaustive, report, totals_of
from solver.proofs.test_three_searches import CASES
from solver.proofs.whole_requests import WholeRequest, whole_requests
from wrung import Answer, Outcome, solve, verify, without_claims
from wrung.planning.finding import Totals

pytestmark = pytest.mark.long

ANSWERS: Final = CASES // 5


def test_answers_say_what_trying_everything_says() -> None:
    """Most of them found by the engine of candidates, as their diagnostics say."""
    seen: Counter[str] = Counter()

    @settings(max_examples=ANSWERS)
    @given(whole_requests())
    def agree(request: WholeRequest) -> None:
        answer = answered(request)
        assert_outcome(request, answer)
        assert_reasons(request, answer)
        assert not verify(request.blocks, request.targets, answer, **request.options())
        stripped = without_claims(answer)
        assert not verify(request.blocks, request.targets, stripped, **request.options())
        seen.update([answer.outcome, answer.diagnostics.engine or "no search"])

    agree()

    report(seen)
    assert min(seen[name] for name in ("optimal", "partial", "infeasible")) >= 0.1 * ANSWERS
    assert seen["candidates"] >= 2 * seen["direct"]


def answered(request: WholeRequest) -> Answer:
    return solve(request.blocks, request.targets, time_limit_ms=AMPLE_MS, **request.options())


def assert_outcome(request: WholeRequest, answer: Answer) -> None:
    wanted = exhaustive(request, request.problem().demands)
    compared, served = answer.compared_errors, {stack.name for stack in answer.stacks}
    reached = Totals(
        served=by_priority(
            request.requirements(), [each.name in served for each in request.requirements()]
        ),
        blocks=answer.total_blocks,
        largest_error=compared.largest if compared else answer.largest_worst_case_error,
        total_error=compared.total if compared else answer.total_worst_case_error,
    )

    assert reached == totals_of(wanted)
    assert answer.outcome == outcome_of(wanted.plan)
    assert answer.proven
    assert answer.objective_proven
    assert answer.bounds.served == wanted.served
    assert_served_bounds(answer.bounds, wanted)


def outcome_of(plan: tuple[object, ...]) -> Outcome:
    if None not in plan:
        return "optimal"
    return "partial" if any(plan) else "infeasible"


def assert_reasons(request: WholeRequest, answer: Answer) -> None:
    """A target has no stack because it has none even alone, or because blocks are in use."""
    reasons = {each.name: each.reason for each in answer.unmet}
    served = {stack.name for stack in answer.stacks}
    for demand in request.problem().demands:
        name = demand.requirement.name
        assert (name in reasons) != (name in served)
        if name in reasons:
            alone = exhaustive(request, (demand,)).served
            assert reasons[name] == ("blocks_in_use" if alone else "cannot_be_built")
