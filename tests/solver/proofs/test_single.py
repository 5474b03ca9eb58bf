"""The quick search for a single stack against the search that every plan begins with."""

from typing import Final

import pytest
from hypothesis import given

from solver.problems import problem_of
from wrung import LengthTarget, Objective, Tolerance, mm, um
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.candidates.stock import by_error
from wrung.planning.candidates.workbench import set_up
from wrung.planning.finding import Finding
from wrung.planning.objectives.alone import as_finding, each_alone
from wrung.planning.objectives.single import single
from wrung.planning.problem import Problem, build_problem
from wrung.testing import Request, make_blocks, requests

AMPLE_MS: Final = 60_000
SHELF: Final = make_blocks(
    "1.001 1.002 1.003 1.01 1.02 1.03 1.1 1.2 1.3 2 2 3 5 10 20", limit_deviation="0.1"
)


@given(requests(max_targets=1))
def test_finds_the_same_stack(request: Request) -> None:
    problem = problem_of(request)
    found = single(problem, by_error(problem), Deadline(AMPLE_MS))

    assert found is None or found == by_arrays(problem)


def by_arrays(problem: Problem) -> Finding | None:
    bench = set_up(problem, by_error(problem), Deadline(AMPLE_MS))
    alone = None if bench is None else each_alone(bench)
    return None if bench is None or alone is None else as_finding(bench, alone)


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
@pytest.mark.parametrize("upper", [0, um("5")])
def test_gives_up_on_no_usual_stack(objective: Objective, upper: int) -> None:
    target = LengthTarget(ref="t", length=mm("36.432"), tolerance=Tolerance(lower=0, upper=upper))
    order = Order(blocks=SHELF, targets=(target,), objective=objective)
    problem = build_problem(order)

    found = single(problem, by_error(problem), Deadline(AMPLE_MS))

    assert found is not None
    assert found == by_arrays(problem)
