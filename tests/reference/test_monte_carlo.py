"""Budgets against propagation of distributions by the Monte Carlo method (JCGM 101:2008).

The trials draw every input from its own distribution and put it through the full model, where the
budget has a linear one with terms of second order: L (1 + a t) of every block over (1 + a_p t_p).
"""

from collections import defaultdict
from random import Random
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import pytest

from solver.metrology.cases import random_conditions, random_stack
from wrung.blocks import Block
from wrung.metrology.budget.rows import Row
from wrung.metrology.budget.stack import stack_budget
from wrung.metrology.conditions import Conditions
from wrung.metrology.expansion import coefficient_of, coefficient_of_material, expansion_of_part
from wrung.metrology.quantities import Quantity

TRIALS = 200_000
Draws: TypeAlias = npt.NDArray[np.float64]


class Simulation:
    """Draws the inputs of one stack."""

    def __init__(self, seed: int) -> None:
        self._generator = np.random.default_rng(seed)

    def draw(self, distribution: str, uncertainty: float, limit: float) -> Draws:
        """Draws about 0."""
        if distribution == "rectangular":
            return self._generator.uniform(-limit, limit, TRIALS)
        if distribution == "triangular":
            return self._generator.triangular(-limit, 0.0, limit, TRIALS)
        if distribution == "arcsine":
            return limit * np.sin(self._generator.uniform(-np.pi, np.pi, TRIALS))
        assert distribution in {"normal", "exact"}
        return self._generator.normal(0.0, uncertainty, TRIALS)

    def quantity(self, value: Quantity) -> Draws:
        """Draws of a quantity."""
        if value.uncertainty == 0:
            return np.full(TRIALS, value.estimate)
        return value.estimate + self.draw(value.distribution, value.uncertainty, value.limit)

    def lengths(self, blocks: list[Block], conditions: Conditions, rows: tuple[Row, ...]) -> Draws:
        """The measurand, nm, less the sum of nominal lengths."""
        nominal = sum(block.nominal for block in blocks) / 100
        grown = self._at_20(rows, conditions.correlation) + self._growth(blocks, conditions)
        stretch = self._stretch
        return (grown - nominal * stretch) / (1 + stretch)

    def _at_20(self, rows: tuple[Row, ...], correlation: float) -> Draws:
        total = np.zeros(TRIALS)
        shared: dict[str, Draws] = defaultdict(lambda: self._generator.normal(0, 1, TRIALS))
        for row in rows:
            if row.kind == "certified_length":
                own = self._generator.normal(0, 1, TRIALS)
                common = shared[row.certificate or ""]
                error = correlation**0.5 * common + (1 - correlation) ** 0.5 * own
                total += row.estimate + row.standard_uncertainty * error
            elif row.unit == "nm":
                total += row.estimate
                total += self.draw(row.distribution, row.standard_uncertainty, row.limit)
        return total

    def _growth(self, blocks: list[Block], conditions: Conditions) -> Draws:
        excess = self.quantity(conditions.excess)
        known: dict[str, Draws] = {}
        total = np.zeros(TRIALS)
        for block in blocks:
            coefficient = coefficient_of(block)
            if coefficient.of not in known:
                known[coefficient.of] = self.quantity(coefficient.value)
            total += block.nominal / 100 * known[coefficient.of] * 1e-6 * excess
        self._stretch = self._part(conditions, excess, known)
        return total

    def _part(self, conditions: Conditions, excess: Draws, known: dict[str, Draws]) -> Draws:
        if conditions.part is None:
            return np.zeros(TRIALS)
        part = expansion_of_part(conditions.part)
        coefficient = self.quantity(part.value)
        if part.follows is not None and part.follows in known:
            coefficient = coefficient + known[part.follows]
        elif part.follows is not None:
            coefficient = coefficient + self.quantity(coefficient_of_material(part.follows).value)
        return coefficient * 1e-6 * (excess + self.quantity(part.temperature_difference))


@pytest.mark.parametrize("seed", range(20))
def test_estimate_uncertainty_and_coverage_agree(seed: int) -> None:
    """Estimate, standard uncertainty and the share of trials within ± U agree with the trials."""
    random = Random(1000 + seed)  # noqa: S311 - invented data
    blocks = random_stack(random, freedoms=(None,))
    conditions = random_conditions(random, freedoms=())
    budget = stack_budget(blocks, conditions)

    off_nominal = Simulation(seed).lengths(blocks, conditions, budget.rows)

    uncertainty = budget.combined.standard_uncertainty_nm
    # Five times the scatter of a mean, and of a standard deviation, over so many trials, and what
    # the budget leaves out: terms of third order, and the estimate's own terms of second order.
    scatter = 5 * uncertainty / TRIALS**0.5
    estimate = (budget.length - budget.nominal) / 100
    assert off_nominal.mean() == pytest.approx(estimate, abs=scatter + 0.002 * uncertainty)
    assert off_nominal.std() == pytest.approx(uncertainty, rel=0.01)
    within = np.abs(off_nominal - estimate) <= budget.combined.expanded_uncertainty_nm
    # Bounded distributions reach no further than their limits, so that more than 95.45 % may lie
    # within; where one of them prevails, all do.
    assert within.mean() > 0.945
