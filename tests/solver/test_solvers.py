"""Every run of a solver is ended by a deadline, and every solver is made in one place."""

import ast
from collections.abc import Iterator
from pathlib import Path

import wrung.planning
from wrung.deadline import Cancel, Deadline
from wrung.planning.solvers import new_linear_solver, new_solver, optimised

MAKERS = {"CpSolver", "CreateSolver", "ModelBuilder", "Solver"}


def calls() -> Iterator[tuple[str, str]]:
    """Every call in planning: the file that it is in, and the last part of its name."""
    for path in Path(wrung.planning.__path__[0]).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call):
                name = getattr(node.func, "attr", getattr(node.func, "id", ""))
                yield path.name, name


def test_solvers_are_made_in_one_place() -> None:
    """There they get what guards against wrong solutions and endless runs."""
    assert {file for file, name in calls() if name in MAKERS} == {"solvers.py"}


def test_a_solver_is_guarded_and_limited() -> None:
    parameters = new_solver(Deadline(5_000), effort=2.0).parameters

    assert not parameters.new_linear_propagation
    assert not parameters.catch_sigint_signal
    assert (parameters.num_workers, parameters.random_seed) == (1, 1)
    assert 0 < parameters.max_time_in_seconds <= 5
    assert parameters.max_deterministic_time == 2.0


def test_a_linear_programme_is_not_solved_without_time() -> None:
    cancel = Cancel()
    cancel.cancel()
    solver = new_linear_solver()
    solver.Constraint(1.0, 1.0).SetCoefficient(solver.NumVar(0.0, 2.0, ""), 1.0)

    assert optimised(solver, Deadline(5_000))
    assert not optimised(solver, Deadline(5_000, cancel))
