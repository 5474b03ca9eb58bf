"""The ways that only large requests take, made to be taken by small ones, come to the same end."""

from typing import Any, Final

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from solver.proofs.agreement import (
    AMPLE_MS,
    assert_no_bound_above,
    assert_proven,
    assert_rules,
    exhaustive,
)
from solver.proofs.whole_requests import WholeRequest, whole_requests
from wrung.deadline import Deadline
from wrung.planning import engine
from wrung.planning.objectives import closing, lexicographic, serving
from wrung.tuning import Tuning

pytestmark = pytest.mark.long

CASES: Final = 300
LEAST_MET: Final = 20


def test_prices_for_every_limit_of_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where candidates with the fewest blocks are many, errors are settled by prices."""
    agree(monkeypatch, lexicographic, "Halving", Tuning(many_offered=0))


def test_a_plan_before_the_list_of_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where no prices are worked out; on small requests these lead to a plan by themselves."""
    agree(monkeypatch, closing, "nearest_of", Tuning(most_rounds=0, many_within_gap=0))


def test_narrowing_where_a_choice_is_not_easy(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the solver does not choose among all of them at once."""
    agree(monkeypatch, closing, "least_choice", Tuning(effort_for_a_quick_choice=0.0))


def test_single_blocks_where_prices_leave_open_how_many_can_be_served(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Where nothing is priced or listed, and no plan is put together before."""
    taken = counted(monkeypatch, serving, "by_blocks")
    listed = Tuning(few_candidates=0, most_candidates=0, most_offered=0, most_patterns=0)
    tuning = replace(listed, most_rounds=0, nearest_each=(0,))
    monkeypatch.setattr(serving, "first_plan", lambda of, *_, **__: (None,) * len(of.demands))

    @settings(max_examples=2 * CASES)
    @given(whole_requests())
    def as_many(request: WholeRequest) -> None:
        problem = request.problem()
        found = engine.search(problem, Deadline(AMPLE_MS, tuning=tuning))
        if found is not None and found.plan is not None:
            wanted = exhaustive(request, problem.demands)
            assert_rules(problem, found.plan)
            assert_no_bound_above(found, wanted)
            assert (found.totals.served, found.served_proven) == (wanted.by_priority, True)

    as_many()

    assert len(taken) >= LEAST_MET


def agree(monkeypatch: pytest.MonkeyPatch, home: object, step: str, tuning: Tuning) -> None:
    """Number served and all values of the objective, for requests of which many take the step."""
    taken = counted(monkeypatch, home, step)
    tuning = replace(tuning, few_candidates=0, most_candidates=0)

    @settings(max_examples=CASES)
    @given(whole_requests())
    def same(request: WholeRequest) -> None:
        problem = request.problem()
        found = engine.search(problem, Deadline(AMPLE_MS, tuning=tuning))
        if found is not None:
            assert_proven(problem, found, exhaustive(request, problem.demands))

    same()

    assert len(taken) >= LEAST_MET


def counted(monkeypatch: pytest.MonkeyPatch, home: object, step: str) -> list[str]:
    """An entry for every time that the step is taken."""
    taken: list[str] = []
    inner: Any = getattr(home, step)

    def noted(*args: object, **options: object) -> object:
        taken.append(step)
        return inner(*args, **options)

    monkeypatch.setattr(home, step, noted)
    return taken
