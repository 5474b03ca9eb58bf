"""Lengths at other temperatures than 20 °C: how stacks and parts grow, and the correction to set.

A length L at 20 °C (ISO 1) is L (1 + a t) at t kelvin above that, with a the coefficient of
expansion of each block's own material. Coefficients are in 1e-6/K, temperatures in °C.
"""

from collections.abc import Iterable, Sequence

from msgspec import Struct

from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.metrology.budget.combining import combine
from wrung.metrology.budget.heat import heat_rows
from wrung.metrology.conditions import Conditions, check
from wrung.metrology.expansion import MILLIONTH, coefficient_of, expansion_of_part


class Growth(Struct, frozen=True, kw_only=True):
    """What temperature does to a stack, or to what it says of a part. Quanta of 0.01 nm.

    Attributes:
        reference_length: length of the stack at 20 °C: nominals and certified deviations.
        length: length of the stack at its temperature; with a part, the size at 20 °C of a part
            that is as long as the stack now.
        growth: ``length`` less ``reference_length``.
        correction: what a wanted length must be changed by so that the stack comes out right:
            build the stack for the wanted length plus this.
        standard_uncertainty_nm: of growth and correction, from temperatures and coefficients, nm.
    """

    reference_length: int
    length: int
    growth: int
    correction: int
    standard_uncertainty_nm: float


def reference_length(blocks: Iterable[Block]) -> int:
    """Sum of nominal lengths and certified deviations at 20 °C, quanta."""
    return sum(block.nominal + (block.deviation or 0) for block in blocks)


@typed
def growth(blocks: Sequence[Block], conditions: Conditions) -> Growth:
    """What the conditions do to a stack of these blocks.

    Raises:
        InputError: the conditions make no sense, or a material is not known.
    """
    check(conditions)
    at_20 = reference_length(blocks)
    change = round(change_by_temperature(blocks, conditions))
    rows = tuple(heat_rows(blocks, conditions))
    combined = combine(rows, coverage_probability=conditions.coverage_probability)
    return Growth(
        reference_length=at_20,
        length=at_20 + change,
        growth=change,
        correction=-change,
        standard_uncertainty_nm=combined.standard_uncertainty_nm,
    )


def change_by_temperature(blocks: Sequence[Block], conditions: Conditions) -> float:
    """The ``growth`` of `Growth`, quanta, not rounded."""
    degrees = conditions.excess.estimate
    # Each block grows by its own material.
    each = (block.nominal * coefficient_of(block).value.estimate for block in blocks)
    change = sum(each) * MILLIONTH * degrees
    if conditions.part is None:
        return change
    part = expansion_of_part(conditions.part)
    stretch = part.total * MILLIONTH * (degrees + part.temperature_difference.estimate)
    # A part is measured by what it is at 20 °C, so its own growth is taken off again.
    # From p (1 + stretch) = L + change, solved for p - L.
    return (change - reference_length(blocks) * stretch) / (1 + stretch)
