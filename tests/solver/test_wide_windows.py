"""Tolerances with more lengths than can be searched, and lengths of two systems of units."""

import random
from collections.abc import Sequence
from typing import Final

import pytest
from msgspec.structs import replace

from wrung import Block, GaugeSet, LengthTarget, Objective, Tolerance, inch, mm, solve, um, verify
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.building.stacking import first_plan
from wrung.planning.candidates.stock import by_nominal
from wrung.planning.candidates.workbench import set_up, spelt_out
from wrung.planning.engine import search
from wrung.planning.finding import totals
from wrung.planning.problem import Problem, build_problem
from wrung.tuning import TUNING, Tuning

AMPLE_MS: Final = 60_000


def sets(*compositions: str) -> tuple[Block, ...]:
    return tuple(
        block
        for name in compositions
        for block in GaugeSet(id=name, composition=name, limit_deviation=um("0.3")).blocks()
    )


def within(width: int) -> Tolerance:
    return Tolerance(lower=-width, upper=width)


def windows(count: int, width: int, seed: int) -> tuple[LengthTarget, ...]:
    """So many lengths of 10 to 60 mm, in tenths of a thousandth of an inch."""
    rng = random.Random(seed)  # noqa: S311 - repeatable requests, no secrets
    return tuple(
        LengthTarget(
            ref=f"t{number}",
            length=rng.randrange(4_000, 24_000) * inch("0.0001"),
            tolerance=within(width),
        )
        for number in range(count)
    )


def problem_of(
    blocks: Sequence[Block], targets: Sequence[LengthTarget], objective: Objective
) -> Problem:
    return build_problem(
        Order(blocks=blocks, targets=targets, objective=objective, joint_allowance=0)
    )


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_the_starts_that_cost_least_prove_the_best_plan(objective: Objective) -> None:
    """Of some million ways to split these windows between the units, few can be in a best plan."""
    blocks, targets = sets("inch-81", "metric-88-1"), windows(3, um("5"), 1)
    problem = problem_of(blocks, targets, objective)
    assert set_up(problem, by_nominal(problem), Deadline(AMPLE_MS)) is None

    answer = solve(blocks, targets, objective=objective, time_limit_ms=AMPLE_MS)

    assert (answer.outcome, answer.diagnostics.engine) == ("optimal", "candidates")
    assert not verify(blocks, targets, answer, objective=objective)


def test_no_more_starts_are_spelt_out_than_allowed() -> None:
    """How many there will be is only estimated beforehand, and each is a column of a packing."""
    blocks = sets("inch-36", "metric-50")[::2]
    problem = problem_of(blocks, windows(3, um("1"), 0), "fewest_blocks")
    tuning = replace(TUNING, most_starts_spelt_out=6_000)
    bench = set_up(problem, by_nominal(problem), Deadline(AMPLE_MS, tuning=tuning))
    assert bench is not None

    assert len(spelt_out(bench).starts) <= tuning.most_starts_spelt_out


def test_a_first_plan_for_least_errors_stays_near_the_targets() -> None:
    """A tolerance of a millimetre is no reason to be off by half of it."""
    problem = problem_of(sets("metric-88-1"), windows(4, mm("0.5"), 3), "least_error")

    plan = first_plan(problem, Deadline(AMPLE_MS))

    assert None not in plan
    assert totals(problem, plan).largest_error < um("20")


def test_a_wide_window_over_a_shelf_of_few_lengths_has_a_plan() -> None:
    """A tolerance has more lengths than are searched, of which the blocks add up to few."""
    lengths = ("2.54762", "1.02", "1.02", "7.62", "3.81", "1.27", "0.5", "1.5")
    blocks = [
        Block(id=f"b{number}", nominal=mm(text), limit_deviation=number * um("0.01"))
        for number, text in enumerate(lengths)
    ]
    targets = [
        LengthTarget(ref="wide", length=mm("12.95762"), tolerance=within(mm("0.25")), max_blocks=2),
        LengthTarget(ref="exact", length=mm("3.02"), max_blocks=3),
        LengthTarget(ref="near", length=mm("2.5215"), tolerance=within(um("2.5")), max_blocks=3),
    ]
    problem = problem_of(blocks, targets, "least_error")
    assert set_up(problem, by_nominal(problem), Deadline(AMPLE_MS)) is None

    found = search(problem, Deadline(AMPLE_MS, tuning=Tuning(few_candidates=0)))

    assert found is not None
    assert found.objective_proven
    # Two want the only block of 1.5 mm, and no two blocks are as long as the first asks for.
    assert found.totals.served == (1,)


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_a_limit_of_blocks_leaves_few_lengths_of_a_wide_window(objective: Objective) -> None:
    """Of many windows only some hold a pair of blocks; whatever is asked first, that is proven."""
    blocks = sets("metric-88-1")[::3]
    targets = [replace(target, max_blocks=2) for target in windows(24, mm("0.6"), 5)]
    problem = problem_of(blocks, targets, objective)
    assert set_up(problem, by_nominal(problem), Deadline(AMPLE_MS)) is None

    answer = solve(blocks, targets, objective=objective, time_limit_ms=AMPLE_MS)

    assert (answer.outcome, answer.diagnostics.engine) == ("partial", "candidates")
    assert answer.bounds.served == len(answer.stacks)
