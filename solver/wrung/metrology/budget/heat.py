"""Rows of temperature and expansion: common to the blocks of one material, so taken once for them.

With t the stack's temperature less 20 °C, d the part's less the stack's, L_m the length of the
blocks of one material, a_m its coefficient, a_p the part's, and L the length of the stack, the size
at 20 °C of a part that fits the stack is, to first order, L + Σ L_m a_m t - L a_p (t + d). Without
a part the last term is left out, and the result is the stack's length at its temperature. Products
of two inputs have rows of second order.
"""

from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct

from wrung.blocks import Block
from wrung.metrology.budget.rows import NM, Row, product, row
from wrung.metrology.conditions import Conditions, reference_figure
from wrung.metrology.expansion import (
    MILLIONTH,
    UNNAMED_PART,
    Coefficient,
    PartExpansion,
    coefficient_of,
    coefficient_of_material,
    expansion_of_part,
)
from wrung.metrology.quantities import Quantity
from wrung.texts import Figure, figure, keys, phrase


class Portion(Struct, frozen=True, kw_only=True):
    """The blocks that share one coefficient of expansion: it, and their length in nm."""

    coefficient: Coefficient
    length_nm: float


def _portions(blocks: Iterable[Block], part: PartExpansion | None) -> Sequence[Portion]:
    """The stack by coefficients of expansion, in the order of first use.

    The material that a part follows is the last of them even where no block is of it.

    Raises:
        InputError: at ``/material``, a material is not known.
    """
    found: dict[str, Portion] = {}
    for block in blocks:
        coefficient = coefficient_of(block)
        before = found.get(coefficient.of)
        length = block.nominal / NM + (before.length_nm if before else 0.0)
        found[coefficient.of] = Portion(coefficient=coefficient, length_nm=length)
    name = part.follows if part else None
    if name is not None and name not in found:
        found[name] = Portion(coefficient=coefficient_of_material(name), length_nm=0.0)
    return tuple(found.values())


def heat_rows(blocks: Sequence[Block], conditions: Conditions) -> Iterator[Row]:
    """All rows of temperature and expansion; none if neither temperature nor part is given.

    Raises:
        InputError: at ``/material``, a material is not known.
    """
    part = expansion_of_part(conditions.part) if conditions.part else None
    # A temperature that nobody stated is taken as 20 °C exactly; a note of the budget says so.
    if conditions.temperature is None and part is None:
        return
    stack = _portions(blocks, part)
    length = sum(portion.length_nm for portion in stack)
    for portion in stack:
        yield from _expansion_rows(portion, length, conditions.excess, part)
    yield _temperature_row(stack, length, conditions, part)
    if part is not None:
        yield from _part_rows(length, conditions.excess, part)


def _expansion_rows(
    portion: Portion, length: float, excess: Quantity, part: PartExpansion | None
) -> Iterator[Row]:
    """The coefficient of one portion; a part that follows it grows by the same error."""
    name, value = portion.coefficient.of, portion.coefficient.value
    own = portion.length_nm * excess.estimate
    apart = portion.length_nm
    if part is not None and part.follows == name:
        # One coefficient for both, so its error partly cancels: one row with the difference.
        own -= length * (excess.estimate + part.temperature_difference.estimate)
        apart -= length
        said, warmer = phrase("budget.times_part", _input(name)), part.temperature_difference
        yield product(f"{name} x part", value, warmer, -length * MILLIONTH, said)
    yield row("expansion", name, value, unit="1e-6/K", sensitivity=own * MILLIONTH)
    said = phrase("budget.times_temperature", _input(name))
    yield product(f"{name} x temperature", value, excess, apart * MILLIONTH, said)


def _input(name: str) -> Figure:
    """A material in words, or the name of the certificate that states the coefficient."""
    key = f"material.{name}"
    return figure("input", phrase(key) if key in keys("en") else name)


def _temperature_row(
    stack: Sequence[Portion], length: float, conditions: Conditions, part: PartExpansion | None
) -> Row:
    grows = sum(portion.length_nm * portion.coefficient.value.estimate for portion in stack)
    if part is not None:
        grows -= length * part.total
    value, sensitivity = conditions.excess, grows * MILLIONTH
    said = phrase("budget.stack_temperature", reference_figure())
    return row("temperature", "stack", value, unit="K", sensitivity=sensitivity, said=said)


def _part_rows(length: float, excess: Quantity, part: PartExpansion) -> Iterator[Row]:
    # Negative: the more a part has grown, the smaller it was at 20 °C.
    per_unit = -length * MILLIONTH
    warmer = part.temperature_difference
    growth = per_unit * (excess.estimate + warmer.estimate)
    # A part of no known material has no name either.
    named = None if part.name != UNNAMED_PART else phrase("budget.part")
    yield row(
        "part_expansion", part.name, part.value, unit="1e-6/K", sensitivity=growth, said=named
    )
    said = phrase("budget.part_temperature")
    gradient = per_unit * part.total
    yield row("part_temperature", "part", warmer, unit="K", sensitivity=gradient, said=said)
    said = phrase("budget.part_times_temperature")
    yield product("part x temperature", part.value, excess, per_unit, said)
    said = phrase("budget.part_times_part")
    yield product("part x part", part.value, warmer, per_unit, said)
