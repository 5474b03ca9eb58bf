"""Whole numbers for the planner, held against the budgets of the stacks they add up to."""

from fractions import Fraction
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.metrology.cases import random_conditions, random_stack
from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.lengths import inch, mm, uin, um
from wrung.metrology.budget import stack_budget
from wrung.metrology.conditions import Conditions
from wrung.metrology.decisions import decide
from wrung.metrology.planning_costs import (
    block_cost,
    fixed_variance,
    joint_variance,
    most_variance,
    safe_factor,
    stack_variance,
    variance_of,
)
from wrung.metrology.purpose import Purpose, Zone

INDEPENDENT = Conditions(correlation=0.0)
STEP_NM = 0.1


def certified(name: str, uncertainty: str = "0.06", freedom: float | None = None) -> Block:
    return Block(
        id=name,
        nominal=mm("10"),
        deviation=um("0.05"),
        expanded_uncertainty=um(uncertainty),
        calibration=Calibration(certificate="4711", degrees_of_freedom=freedom),
    )


def planned(blocks: list[Block], conditions: Conditions) -> int:
    return stack_variance(
        [block_cost(block, conditions) for block in blocks],
        joint=joint_variance(conditions),
        fixed=fixed_variance(conditions),
    )


@given(st.integers(0, 10_000))
def test_the_sum_over_blocks_is_the_variance_of_the_budget(seed: int) -> None:
    """Whatever is shared: certificates, coefficients, temperatures, with a part or without.

    Rounding to 0.1 nm moves a block's shared amounts by up to 0.05 nm each.
    """
    random = Random(seed)  # noqa: S311 - invented data
    blocks, conditions = random_stack(random), random_conditions(random)
    budget = stack_budget(blocks, conditions)

    uncertainty = budget.combined.standard_uncertainty_nm

    assert planned(blocks, conditions) ** 0.5 * STEP_NM == pytest.approx(uncertainty, abs=1.0)


@given(st.integers(0, 10_000))
def test_offsets_add_to_that_of_the_budget(seed: int) -> None:
    random = Random(seed)  # noqa: S311 - invented data
    blocks, conditions = random_stack(random), random_conditions(random)

    offset = sum(block_cost(block, conditions).offset for block in blocks)

    assert abs(offset - stack_budget(blocks, conditions).offset) <= len(blocks)


def test_variance_alone_adds_where_nothing_is_shared() -> None:
    """30 nm is 300 steps: twice 90 000."""
    blocks = [certified("a"), certified("b")]

    total = sum(variance_of(block, INDEPENDENT) for block in blocks)

    assert total == 2 * 300**2
    assert planned(blocks, INDEPENDENT) == total + joint_variance(INDEPENDENT)


def test_of_one_certificate_uncertainties_add_before_they_are_squared() -> None:
    blocks = [certified("a"), certified("b")]

    assert planned(blocks, Conditions()) == 600**2 + joint_variance()


def test_the_sum_of_single_variances_bounds_a_shared_certificate_from_below() -> None:
    blocks = [certified("a"), certified("b"), certified("c", "0.08")]

    least = sum(variance_of(block) for block in blocks)

    assert least < planned(blocks, Conditions()) - 2 * joint_variance()


class TestMargins:
    def test_unequal_limits_stay_unequal(self) -> None:
        """Federal grade 3, 1 in: +8/-4 µin (from memory, not checked against print)."""
        cost = block_cost(Block(id="a", nominal=inch("1"), grade="3", unit="in"))

        assert (cost.plus, cost.minus, cost.offset) == (uin("8"), uin("4"), uin("2"))

    def test_a_certificate_has_equal_margins(self) -> None:
        cost = block_cost(certified("a"))

        assert (cost.plus, cost.minus, cost.offset) == (um("0.06"), um("0.06"), um("0.05"))

    @given(st.lists(st.sampled_from(["1", "2", "3", "0.5"]), min_size=1, max_size=6))
    def test_two_sums_hold_the_worst_case_of_unequal_limits(self, grades: list[str]) -> None:
        """The larger of both sums is what a corner search over all limits finds."""
        blocks = [
            Block(id=f"b{i}", nominal=inch("1"), grade=grade, unit="in")
            for i, grade in enumerate(grades)
        ]
        costs = [block_cost(block) for block in blocks]

        sums = max(sum(cost.plus for cost in costs), sum(cost.minus for cost in costs))

        budget = stack_budget(blocks, joint_allowance=0)
        assert sums == budget.uncorrected.all_inputs_at_limits


class TestRequiredRatio:
    @given(st.integers(0, 10_000), st.sampled_from(["1", "4", "10"]))
    def test_a_stack_within_the_limit_keeps_the_ratio(self, seed: int, ratio: str) -> None:
        random = Random(seed)  # noqa: S311 - invented data
        blocks, conditions = random_stack(random), random_conditions(random)
        budget = stack_budget(blocks, conditions)
        width = random.randint(1, 60) * um("1")
        purpose = Purpose(
            limits=Zone(lower=budget.nominal, upper=budget.nominal + width),
            corrected=True,
            required_ratio=Fraction(ratio),
        )

        most = most_variance(width, Fraction(ratio), safe_factor(blocks, conditions))

        # A step of rounding per block lies between the planner's figure and the budget's.
        if planned(blocks, conditions) <= most * 0.98:
            assert decide(budget, purpose).ratio_met

    def test_without_degrees_of_freedom_the_limit_is_sharp(self) -> None:
        """With k = 2 a variance of (U / 2)², here of 0.5 µm, is allowed and no more."""
        most = most_variance(um("10"), Fraction(10), 2.0)

        assert most == 2_500**2

    def test_the_safe_factor_is_that_of_the_fewest_degrees_of_freedom(self) -> None:
        blocks = [certified("a", freedom=50.0), certified("b", freedom=5.0)]
        conditions = Conditions(coverage_probability=0.95)

        factor = safe_factor(blocks, conditions)

        assert round(factor, 2) == 2.57
        assert factor >= stack_budget(blocks, conditions).combined.coverage_factor


def test_long_coarse_stacks_stay_far_below_the_planners_integers() -> None:
    """Twenty blocks of 500 mm, grade 2: below 2**44."""
    blocks = [Block(id=f"b{i}", nominal=mm("500"), grade="2") for i in range(20)]

    assert planned(blocks, Conditions()) < 1 << 44
