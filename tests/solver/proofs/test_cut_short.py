"""Whatever a search is interrupted at, nothing false is claimed, and what is found can be built."""

from collections import Counter
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solver.oracle import Best, by_priority
from solver.proofs.agreement import (
    assert_no_bound_above,
    assert_rules,
    assert_served_bounds,
    exhaustive,
    report,
    totals_of,
)
from solver.proofs.countdown import Countdown
from solver.proofs.test_three_searches import CASES
from solver.proofs.whole_requests import WholeRequest, whole_requests
from wrung import Answer, verify
from wrung.order import Order
from wrung.planning import direct, engine
from wrung.planning.execution import answered as answered_by
from wrung.planning.finding import Engine, Finding, totals, values_of
from wrung.planning.problem import Problem

pytestmark = pytest.mark.long

CUTS: Final = CASES // 8
ENDLESS: Final = 1_000_000
LOOKS: Final = st.integers(0, 11).flatmap(lambda k: st.integers(2**k - 1, 2 ** (k + 1)))
"""At the clock, until there is no time left: any of the first ones as often as any of the next."""

SEARCHES: Final[dict[str, Engine]] = {"engine": engine.search, "direct": direct.search}


def test_an_engine_that_is_cut_short_claims_nothing_false() -> None:
    seen: Counter[str] = Counter()

    @settings(max_examples=CUTS)
    @given(whole_requests(), st.integers(0, 100))
    def cut(request: WholeRequest, percent: int) -> None:
        problem = request.problem()
        wanted = exhaustive(request, problem.demands)
        for name, search in SEARCHES.items():
            found = search(problem, Countdown(percent * looks_of(search, problem) // 100))
            if found is not None:
                assert_true(problem, found, wanted)
                seen[f"{name} {'proven' if found.objective_proven else 'not proven'}"] += 1

    cut()

    report(seen)
    assert seen["direct not proven"] >= 0.5 * CUTS
    # Cut short early, the engine hands back nothing at all.
    assert seen["engine not proven"] >= 0.02 * CUTS


def looks_of(search: Engine, problem: Problem) -> int:
    """How often the search looks at the clock if nothing cuts it short."""
    deadline = Countdown(ENDLESS)
    search(problem, deadline)
    return ENDLESS - deadline.looks_left


def assert_true(problem: Problem, found: Finding, wanted: Best) -> None:
    """What is claimed; an exhaustive search finds no worse, or the checker here is wrong."""
    assert_no_bound_above(found, wanted)
    reached = None if found.plan is None else totals(problem, found.plan)
    if found.served_proven:
        assert found.bounds.served == wanted.served
        assert reached is None or reached.served == wanted.by_priority
    if found.objective_proven:
        assert reached == totals_of(wanted)
    if found.plan is not None:
        assert_rules(problem, found.plan)
        assert found.values >= best_values(problem, wanted)


def best_values(problem: Problem, wanted: Best) -> tuple[int, ...]:
    place = {piece.block.id: index for index, piece in enumerate(problem.pieces)}
    plan = tuple(None if s is None else tuple(place[name] for name in s) for s in wanted.plan)
    return values_of(problem, plan)


def test_an_answer_that_is_cut_short_claims_nothing_false() -> None:
    """Of a target without a stack no false reason is given.

    Every outcome is met but "unknown", as a plan is put together after a search without any.
    """
    seen: Counter[str] = Counter()

    @settings(max_examples=CUTS)
    @given(whole_requests(), LOOKS)
    def cut(request: WholeRequest, looks: int) -> None:
        answer = answered(request, looks)
        assert_answer(request, answer)
        assert not verify(request.blocks, request.targets, answer, **request.options())
        seen[answer.outcome] += 1
        seen["not proven"] += not answer.objective_proven

    cut()

    report(seen)
    outcomes = ("optimal", "feasible", "partial", "infeasible")
    assert min(seen[outcome] for outcome in outcomes) > 0
    assert seen["not proven"] >= 0.2 * CUTS


def answered(request: WholeRequest, looks: int) -> Answer:
    order = Order(blocks=request.blocks, targets=request.targets, **request.options())
    search_by = Countdown(looks)
    return answered_by(order, search_by, Countdown(looks, search_by.cancel))


def assert_answer(request: WholeRequest, answer: Answer) -> None:
    demands = request.problem().demands
    wanted = exhaustive(request, demands)
    served, names = len(answer.stacks), {stack.name for stack in answer.stacks}
    assert_served_bounds(answer.bounds, wanted)
    reached = by_priority(
        request.requirements(), [each.name in names for each in request.requirements()]
    )
    assert answer.bounds.served >= wanted.served
    assert wanted.by_priority >= reached
    if answer.outcome == "partial" and answer.proven:
        assert reached == wanted.by_priority
    if answer.outcome == "infeasible":
        assert wanted.served == 0
    if answer.objective_proven:
        assert (served, answer.total_blocks) == (wanted.served, wanted.total_blocks)
    for unmet in answer.unmet:
        alone = exhaustive(request, tuple(d for d in demands if d.requirement.name == unmet.name))
        expected = {"blocks_in_use": 1, "cannot_be_built": 0, "not_decided": alone.served}
        assert alone.served == expected[unmet.reason]
