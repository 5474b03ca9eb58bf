"""The same request gets the same answer: again, whatever came before it, and in every process."""

import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import msgspec
import pytest
from ortools.sat.python import cp_model

from solver.proofs.same_answers import answers
from wrung.planning.candidates import layout, supply
from wrung.planning.candidates.tables import TableCache

TESTS: Final = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def once() -> Mapping[str, bytes]:
    """The answers as first found here."""
    return answers(order=0)


def test_the_requests_are_of_every_sort(once: Mapping[str, bytes]) -> None:
    """Otherwise it would not say much that their answers are the same."""
    found = {name: msgspec.json.decode(text) for name, text in once.items()}
    outcomes = {answer["outcome"] for answer in found.values()}
    engines = {answer["diagnostics"]["engine"] for answer in found.values()}

    assert outcomes == {"optimal", "partial", "infeasible"}
    assert engines == {"candidates"}
    assert any(answer["shortage"] for answer in found.values())
    assert all(answer["objective_proven"] for answer in found.values())


@pytest.mark.parametrize("order", [0, 1, 2])
def test_in_one_process_whatever_came_before(once: Mapping[str, bytes], order: int) -> None:
    """Tables and layouts are warm now, from other requests too."""
    assert answers(order) == once


def test_with_cold_tables(once: Mapping[str, bytes], monkeypatch: pytest.MonkeyPatch) -> None:
    """Each request finds the caches as a new process has them."""

    def forget() -> None:
        monkeypatch.setattr(supply, "TABLES", TableCache())
        layout.laid_out.cache_clear()

    assert answers(3, before=forget) == once


@pytest.mark.parametrize(
    ("order", "environment"),
    [
        (4, {"PYTHONHASHSEED": "1", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}),
        (5, {"PYTHONHASHSEED": "2", "OMP_NUM_THREADS": "4", "OPENBLAS_NUM_THREADS": "4"}),
    ],
    ids=["one thread", "four threads"],
)
def test_in_every_process(
    once: Mapping[str, bytes], order: int, environment: Mapping[str, str]
) -> None:
    """Hashes seeded differently, another order, another number of threads for arithmetic."""
    found = subprocess.run(  # noqa: S603 - this very interpreter
        [sys.executable, "-m", "solver.proofs.same_answers", str(order)],
        check=True,
        capture_output=True,
        cwd=TESTS,
        env={**os.environ, **environment},
    ).stdout

    assert found == msgspec.json.encode(once)


def test_no_search_asks_for_more_than_one_worker(monkeypatch: pytest.MonkeyPatch) -> None:
    """Searches share a machine by their number; several workers in one would race one another."""
    seen: list[tuple[int, int]] = []
    solve = cp_model.CpSolver.solve

    def noted(solver: cp_model.CpSolver, *arguments: Any) -> cp_model.CpSolverStatus:  # noqa: ANN401
        seen.append((solver.parameters.num_workers, solver.parameters.random_seed))
        return solve(solver, *arguments)

    monkeypatch.setattr(cp_model.CpSolver, "solve", noted)
    answers(order=6)

    assert set(seen) == {(1, 1)}
