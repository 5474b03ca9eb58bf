"""Budgets against the GUM Tree Calculator (PyPI: GTC, Measurement Standards Laboratory of NZ).

GTC differentiates the model of measurement by itself and combines by the law of propagation and by
Welch and Satterthwaite. It is given the stack's model in physical terms: the common error of a
certificate is one quantity that all its blocks share.
"""

from collections import defaultdict
from random import Random

import GTC  # type: ignore[import-untyped]  # has no type information
import pytest

from solver.metrology.cases import random_conditions, random_stack
from wrung.blocks import Block
from wrung.metrology.budget.combining import Combined, combine
from wrung.metrology.budget.rows import Row
from wrung.metrology.budget.stack import stack_budget
from wrung.metrology.conditions import Conditions
from wrung.metrology.expansion import coefficient_of, coefficient_of_material, expansion_of_part
from wrung.metrology.quantities import Quantity
from wrung.metrology.student import quantile

NINE_DIGITS = 1e-9
_SIMPLE = ("length_within_limits", "drift", "variation_in_length", "wringing")


def ureal(value: Quantity) -> GTC.ureal:
    return GTC.ureal(value.estimate, value.uncertainty, value.degrees_of_freedom)


def model(blocks: list[Block], conditions: Conditions, rows: tuple[Row, ...]) -> GTC.ureal:
    """The length, nm: each block's own error, the certificates' common ones, and the heat."""
    total = GTC.ureal(0.0, 0.0)
    for row in rows:
        if row.kind in _SIMPLE:
            total += GTC.ureal(0.0, row.standard_uncertainty, row.degrees_of_freedom)
    return total + _certified(rows, conditions.correlation) + _heat(blocks, conditions)


def _certified(rows: tuple[Row, ...], correlation: float) -> GTC.ureal:
    total = GTC.ureal(0.0, 0.0)
    groups: defaultdict[str | None, list[Row]] = defaultdict(list)
    for row in rows:
        if row.kind == "certified_length":
            groups[row.certificate].append(row)
    for group in groups.values():
        common = GTC.ureal(0.0, 1.0, min(row.degrees_of_freedom for row in group))
        for row in group:
            own = GTC.ureal(0.0, 1.0, row.degrees_of_freedom)
            error = correlation**0.5 * common + (1 - correlation) ** 0.5 * own
            total += row.standard_uncertainty * error
    return total


def _heat(blocks: list[Block], conditions: Conditions) -> GTC.ureal:
    """Σ L a t - L a_p (t + d), differentiated by GTC."""
    excess = ureal(conditions.excess)
    known: dict[str, GTC.ureal] = {}
    total = GTC.ureal(0.0, 0.0)
    for block in blocks:
        coefficient = coefficient_of(block)
        shared = known.setdefault(coefficient.of, ureal(coefficient.value))
        total += block.nominal / 100 * 1e-6 * shared * excess
    if conditions.part is None:
        return total
    part = expansion_of_part(conditions.part)
    coefficient_of_part = ureal(part.value)
    if part.follows is not None:
        of_blocks = ureal(coefficient_of_material(part.follows).value)
        coefficient_of_part += known.get(part.follows, of_blocks)
    length = sum(block.nominal for block in blocks) / 100
    return total - length * 1e-6 * coefficient_of_part * (
        excess + ureal(part.temperature_difference)
    )


def first_order(rows: tuple[Row, ...], correlation: float) -> Combined:
    kept = [row for row in rows if row.kind != "second_order"]
    return combine(kept, coverage_probability=0.95, correlation=correlation)


@pytest.mark.parametrize("seed", range(100))
def test_standard_uncertainty_and_freedom_agree(seed: int) -> None:
    """Standard uncertainty and effective degrees of freedom agree with GTC to nine digits."""
    random = Random(seed)  # noqa: S311 - invented data
    blocks, conditions = random_stack(random), random_conditions(random)
    rows = stack_budget(blocks, conditions).rows

    found = first_order(rows, conditions.correlation)
    expected = model(blocks, conditions, rows)

    uncertainty = pytest.approx(GTC.uncertainty(expected), rel=NINE_DIGITS)
    assert found.standard_uncertainty_nm == uncertainty
    if found.degrees_of_freedom < 1e6:  # GTC calls more of them infinite
        assert found.degrees_of_freedom == pytest.approx(GTC.dof(expected), rel=NINE_DIGITS)


@pytest.mark.parametrize("freedom", [1, 2, 5, 16, 16.75, 50, 300])
def test_coverage_factors_agree(freedom: float) -> None:
    """The coverage factor for 95 % agrees with GTC's."""
    expected = GTC.reporting.k_factor(freedom, 95)

    assert quantile(0.95, freedom) == pytest.approx(expected, rel=NINE_DIGITS)
