"""The ways that only large requests take, made to be taken by small ones, come to the same end."""

from typing import Any, Final

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from solver.proofs.agreement import AMPLE_MS, assert_proven, exhaustive
from solver.proofs.whole_requests import WholeRequest, whole_requests
from wrung.deadline import Deadline
from wrung.planning import engine
from wrung.planning.objectives import closing, lexicographic
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
