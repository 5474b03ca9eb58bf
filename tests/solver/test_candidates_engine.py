"""The engine of candidate stacks, case by case; `proofs` holds it to other searches."""

import os
import subprocess
import sys
from typing import Final

import pytest

from solver.proofs.agreement import assert_rules
from solver.proofs.countdown import Countdown
from wrung import Block, GaugeSet, LengthTarget, Objective, Tolerance, inch, mm, um
from wrung.deadline import Cancel, Deadline
from wrung.order import Order
from wrung.planning import direct, engine
from wrung.planning.finding import Finding, Plan, totals
from wrung.planning.problem import Problem, build_problem
from wrung.testing import make_blocks, make_targets

AMPLE_MS: Final = 60_000
LOOKS: Final = 1_000
"""At the clock: enough for a plan and a bound."""
NO_STEP: Final = " ".join(f"{500 + n * n * 0.00073:.5f}" for n in range(1, 31))
"""Lengths that have only a very small step in common, however many of them are left out."""
OBJECTIVES: Final[tuple[Objective, ...]] = ("fewest_blocks", "least_error")


def of(
    blocks: tuple[Block, ...], *targets: LengthTarget, objective: Objective = "fewest_blocks"
) -> Problem:
    return build_problem(
        Order(blocks=blocks, targets=targets, objective=objective, joint_allowance=0)
    )


def find(problem: Problem) -> Finding:
    """The engine's finding, where the problem is not beyond its tables."""
    found = engine.search(problem, Deadline(AMPLE_MS))
    assert found is not None
    return found


def plan_of(problem: Problem, found: Finding) -> Plan:
    """The plan, with the rules kept."""
    assert found.plan is not None
    assert_rules(problem, found.plan)
    return found.plan


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


def test_no_more_is_denied_than_cannot_be() -> None:
    """The bound on the number served is not below what a plan built block by block serves."""
    problem = of(two_sets(), *thirty_targets())
    found = engine.search(problem, Countdown(LOOKS))
    other = direct.search(problem, Countdown(LOOKS, each_s=1.0))
    assert other.plan is not None

    assert found is None or found.bounds.served >= sum(totals(problem, other.plan).served)
    if found is not None and found.plan is not None:
        assert sum(totals(problem, plan_of(problem, found)).served) <= other.bounds.served


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


def test_what_is_proven_of_a_total_is_no_more_than_the_best_has() -> None:
    """Errors here are multiples of 50 nm; limits on their total rose in steps of a 500th of it."""
    problem = of(three_graded_sets(), *seven_gauges(), objective="least_error")

    found = find(problem)

    assert found.proof.levels <= found.values


def three_graded_sets() -> tuple[Block, ...]:
    two = (mm("2"), mm("2"))
    graded = (("metric-47-a", "1", two), ("metric-88-1", "AS-2", two), ("metric-83", "AS-1", ()))
    return tuple(
        block
        for name, grade, wear in graded
        for block in GaugeSet(
            id=name, composition=name, grade=grade, wear_block_nominals=wear
        ).blocks()
    )


def seven_gauges() -> tuple[LengthTarget, ...]:
    return (
        LengthTarget(ref="a", length=mm("29.84"), wear_blocks="both"),
        LengthTarget(ref="b", length=mm("12.61"), wear_blocks="both"),
        *make_targets("23 28.52"),
        window("c", "43.21", "-0.1", "0.1"),
        LengthTarget(ref="d", length=mm("45.64"), wear_blocks="one"),
        window("e", "17.1705", "0.0015", "0.003"),
    )


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
@pytest.mark.parametrize("nominals", ["", NO_STEP], ids=["no blocks", "long table"])
def test_what_is_beyond_the_tables_is_left_to_others(nominals: str, objective: Objective) -> None:
    """A table over 2 m in steps of 10 nm would be too long, and no few grids hold the lengths."""
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
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.problem import build_problem
from wrung.testing import make_blocks, make_targets
problem = build_problem(Order(
    blocks=make_blocks("1.001 1.002 1.003 1.01 1.02 1 2 3 4 5 10"),
    targets=make_targets("2.011 7.003 7.003 13.02"),
    objective={objective!r},
    joint_allowance=0,
))
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
