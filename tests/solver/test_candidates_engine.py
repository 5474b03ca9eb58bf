"""The engine of candidate stacks, held to the exhaustive search and to the direct model.

`WRUNG_CANDIDATE_CASES=2000` tries more requests than the usual 300.
"""

import os
import subprocess
import sys
from math import gcd
from typing import Final

import pytest
from hypothesis import given, settings

from solver import oracle_engine
from wrung import Block, GaugeSet, LengthTarget, Objective, Tolerance, inch, mm, um
from wrung.planning import direct, engine
from wrung.planning.deadline import Cancel, Deadline
from wrung.planning.finding import Finding, Plan, Totals, totals
from wrung.planning.problem import Problem, build_problem
from wrung.testing import Request, make_blocks, make_targets, requests

CASES: Final = int(os.environ.get("WRUNG_CANDIDATE_CASES", "300"))
AMPLE_MS: Final = 60_000
LONG_TABLE: Final = 250_000
"""Steps that a table must at least hold before a search for ten blocks may do without it."""
WIDE_WINDOW: Final = 1_000
"""Likewise for the lengths in one window."""
OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "least_error")


def problem_of(request: Request) -> Problem:
    return build_problem(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )


def of(
    blocks: tuple[Block, ...], *targets: LengthTarget, objective: Objective = "fewest_blocks"
) -> Problem:
    return build_problem(blocks, targets, objective=objective, joint_allowance=0)


def find(problem: Problem) -> Finding:
    """The engine's finding, where the problem is not beyond its tables."""
    found = engine.search(problem, Deadline(AMPLE_MS))
    assert found is not None
    return found


def plan_of(problem: Problem, found: Finding) -> Plan:
    """The plan, with the rules kept."""
    assert found.plan is not None
    for demand, stack in zip(problem.demands, found.plan, strict=True):
        pieces = [problem.pieces[piece] for piece in stack or ()]
        length = sum(piece.nominal for piece in pieces)
        assert stack is None or demand.low <= length <= demand.high
        assert stack is None or sum(piece.wear for piece in pieces) == demand.wear
        assert stack is None or 1 <= len(stack) <= demand.most
    for crowd in problem.crowds:
        used = [piece for demand in crowd for piece in found.plan[demand] or ()]
        assert len(used) == len(set(used))
    return found.plan


def assert_no_bound_above(found: Finding, best: Totals) -> None:
    bounds = found.bounds
    assert bounds.served >= best.served
    assert (bounds.total_blocks or 0) <= best.blocks
    assert (bounds.largest_worst_case_error or 0) <= best.largest_error
    assert (bounds.total_worst_case_error or 0) <= best.total_error


@settings(max_examples=CASES)
@given(requests(max_blocks=9, max_targets=4))
def test_whatever_is_claimed_agrees_with_an_exhaustive_search(request: Request) -> None:
    """No search is ended by time here, so whatever has a table is proven to the end."""
    problem = problem_of(request)
    found = engine.search(problem, Deadline(AMPLE_MS))
    if found is None:
        assert beyond_the_tables(problem)
        return
    wanted = oracle_engine.search(problem, Deadline(AMPLE_MS))
    assert wanted.plan is not None
    best = totals(problem, wanted.plan)

    assert totals(problem, plan_of(problem, found)) == best
    assert (found.served_proven, found.objective_proven) == (True, True)
    assert_no_bound_above(found, best)


@settings(max_examples=max(CASES // 10, 1))
@given(requests(max_blocks=12, max_targets=4))
def test_two_engines_that_share_no_model_agree(request: Request) -> None:
    """Up to 12 blocks, where the exhaustive search takes too long."""
    problem = problem_of(request)
    found = engine.search(problem, Deadline(AMPLE_MS))
    if found is None:
        assert beyond_the_tables(problem)
        return
    other = direct.search(problem, Deadline(AMPLE_MS))
    assert other.plan is not None
    assert other.objective_proven

    assert found.objective_proven
    assert totals(problem, plan_of(problem, found)) == totals(problem, other.plan)


def beyond_the_tables(problem: Problem) -> bool:
    """No gauge blocks; or lengths, or windows, of very many of the blocks' common steps."""
    gauges = [piece.nominal for piece in problem.pieces if not piece.wear]
    if not gauges:
        return True
    longest = max(min(demand.high, sum(gauges)) for demand in problem.demands)
    widest = max(demand.high - demand.low for demand in problem.demands)
    step = gcd(*gauges)
    return longest // step > LONG_TABLE or widest // step > WIDE_WINDOW


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(
    ("nominals", "lengths"),
    [
        ("10 10 10 10 10 10", "10 20 30"),
        ("10 10 10 10 10 10", "30 40 20"),
        ("2 3 5 7 11 13 17 19 23", "24 30 36 42"),
        ("7", "7"),
        ("7", "7 7"),
        ("7", "8"),
        ("0.001 0.001 500 500", "500.001 500.001 1000"),
    ],
    ids=["equal", "too few", "primes", "one", "one for two", "one in vain", "both ends"],
)
def test_odd_shelves_are_searched_to_the_end(
    nominals: str, lengths: str, objective: Objective
) -> None:
    problem = of(make_blocks(nominals), *make_targets(lengths), objective=objective)
    found = find(problem)
    wanted = oracle_engine.search(problem, Deadline(AMPLE_MS))
    assert wanted.plan is not None

    assert found.objective_proven
    assert totals(problem, plan_of(problem, found)) == totals(problem, wanted.plan)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_exact_blocks_make_stacks_without_error(objective: Objective) -> None:
    """Margins of zero: only numbers of blocks tell plans apart."""
    blocks = make_blocks("1 2 3 4 5", limit_deviation="0")
    problem = of(blocks, *make_targets("5 5 5"), objective=objective)
    found = find(problem)

    assert found.objective_proven
    assert totals(problem, plan_of(problem, found)) == Totals(
        served=3, blocks=5, largest_error=0, total_error=0
    )


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_deviations_on_both_sides_of_zero_cancel(objective: Objective) -> None:
    """A stack of 3 mm is best of one long and one short block, whatever else is there."""
    figures = (("1", "-0.3"), ("1", "-0.1"), ("2", "0.3"), ("2", "-0.2"))
    blocks = tuple(
        Block(id=f"b{n}", nominal=mm(a), deviation=um(b), expanded_uncertainty=um("0.01"))
        for n, (a, b) in enumerate(figures)
    )
    problem = of(blocks, *make_targets("3"), objective=objective)

    found = find(problem)

    assert found.objective_proven
    assert totals(problem, plan_of(problem, found)).largest_error == um("0.02")


def test_six_hundred_blocks_serve_one_length_over_and_over() -> None:
    """One stack is of a single block; no other can be, and two blocks are enough for each."""
    blocks = make_blocks(" ".join(f"{n / 100:.2f}" for n in range(1, 601)))
    problem = of(blocks, *make_targets("6 6 6 6 6"))
    found = find(problem)

    assert found.objective_proven
    assert totals(problem, plan_of(problem, found)).blocks == 1 + 4 * 2


def test_sixty_targets_share_two_sets() -> None:
    """Twenty lengths three times: two by one block each, the third of two or more."""
    shelf = two_sets()
    lengths = [f"{n / 1000:.3f}" for n in range(101, 121)] * 3
    problem = of(shelf, *make_targets(" ".join(lengths), unit="in"))
    found = find(problem)
    reached = totals(problem, plan_of(problem, found))

    assert reached.served <= found.bounds.served
    assert (found.bounds.total_blocks or 0) <= reached.blocks
    assert reached.served >= len(lengths) * 2 // 3


def test_no_more_is_denied_than_cannot_be() -> None:
    """The bound on the number served is not below what a plan built block by block serves."""
    problem = of(two_sets(), *thirty_targets())
    found = engine.search(problem, Deadline(1_500))
    other = direct.search(problem, Deadline(1_000))
    assert other.plan is not None

    assert found is None or found.bounds.served >= totals(problem, other.plan).served
    if found is not None:
        assert totals(problem, plan_of(problem, found)).served <= other.bounds.served


def test_no_plan_at_all_is_proven_where_wide_windows_promise_one() -> None:
    """Halves of stacks would serve three; whole ones serve two, with the least error proven."""
    blocks = make_blocks("13 1 11 101 1", limit_deviation="0.1")
    problem = of(
        blocks,
        window("a", "2", "-0.5", "0"),
        window("b", "1", "-0.5", "1"),
        LengthTarget(ref="c", length=mm("103"), max_blocks=2),
        objective="least_error",
    )

    assert find(problem).objective_proven


def window(ref: str, length: str, lower: str, upper: str) -> LengthTarget:
    return LengthTarget(
        ref=ref, length=mm(length), tolerance=Tolerance(lower=mm(lower), upper=mm(upper))
    )


def two_sets() -> tuple[Block, ...]:
    return tuple(
        block
        for name in ("a", "b")
        for block in GaugeSet(id=name, composition="inch-81", grade="AS-1").blocks()
    )


def thirty_targets() -> list[LengthTarget]:
    return [
        LengthTarget(ref=f"t{k}", length=inch("0.4567") + k * inch("0.1871")) for k in range(30)
    ]


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(
    "nominals", ["", "0.001 0.002 999.999 1000"], ids=["no blocks", "long table"]
)
def test_what_is_beyond_the_tables_is_left_to_others(nominals: str, objective: Objective) -> None:
    """A table over 2 m in steps of 1 µm would be too long."""
    problem = of(make_blocks(nominals), *make_targets("1999.999"), objective=objective)

    assert engine.search(problem, Deadline(AMPLE_MS)) is None


def test_a_cancelled_search_claims_nothing_false() -> None:
    cancel = Cancel()
    cancel.cancel()
    problem = of(make_blocks("1 2 3 4 5 6"), *make_targets("7 7 9"))
    found = engine.search(problem, Deadline(AMPLE_MS, cancel))

    assert found is None or found.bounds.served == 3


CONTENDED: Final = """
from wrung.planning import engine
from wrung.planning.deadline import Deadline
from wrung.planning.problem import build_problem
from wrung.testing import make_blocks, make_targets
problem = build_problem(
    make_blocks("1.001 1.002 1.003 1.01 1.02 1 2 3 4 5 10"),
    make_targets("2.011 7.003 7.003 13.02"),
    objective={objective!r},
    joint_allowance=0,
)
print(engine.search(problem, Deadline(60_000)).plan)
"""


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_the_same_problem_gets_the_same_plan_in_every_process(objective: Objective) -> None:
    """Twice, with hashes seeded differently, and once here."""
    script = CONTENDED.format(objective=objective)
    printed = {
        subprocess.run(  # noqa: S603 - this very interpreter
            [sys.executable, "-c", script],
            check=True,
            capture_output=True,
            text=True,
            env={**os.environ, "PYTHONHASHSEED": seed},
        ).stdout.strip()
        for seed in ("1", "2")
    }
    blocks = make_blocks("1.001 1.002 1.003 1.01 1.02 1 2 3 4 5 10")
    problem = of(blocks, *make_targets("2.011 7.003 7.003 13.02"), objective=objective)

    assert printed == {str(find(problem).plan)}
