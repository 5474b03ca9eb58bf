"""Worked thermal figures; computed by hand from the coefficients, no printed source.

Coefficients: steel 11.5e-6/K (Kaye & Laby, 16th ed.), aluminium 23.1e-6/K (Swyt, J. Res. NIST 99
(1994) 31), tungsten carbide 4.5e-6/K and zirconia 9.2e-6/K (NIST Gauge Block Handbook).
"""

import pytest

from wrung.blocks import Block
from wrung.lengths import QUANTA, inch, mm, um
from wrung.metrology.conditions import Conditions, Part
from wrung.metrology.quantities import exactly, rectangular
from wrung.metrology.temperature import growth


def block(nominal: int, material: str) -> Block:
    return Block(id=f"{material}-{nominal}", nominal=nominal, grade="1", material=material)


@pytest.mark.parametrize(
    ("nominal", "material", "degrees", "um_longer"),
    [
        (mm("100"), "steel", 21.0, 1.150),
        (mm("100"), "steel", 25.0, 5.75),
        (mm("25"), "steel", 21.0, 0.2875),
        (inch("4"), "steel", 21.0, 1.1684),  # 46 µin
        (mm("100"), "tungsten-carbide", 21.0, 0.45),
        (mm("100"), "zirconia", 21.0, 0.92),
        (mm("100"), "steel", 15.0, -5.75),
    ],
)
def test_growth_of_one_block(nominal: int, material: str, degrees: float, um_longer: float) -> None:
    """A block grows by its length times its coefficient times the temperature over 20 °C."""
    found = growth([block(nominal, material)], Conditions(temperature=exactly(degrees)))

    assert found.growth / QUANTA["um"] == pytest.approx(um_longer, abs=1e-6)


@pytest.mark.parametrize(
    ("stack", "part", "apart"),
    [("steel", "aluminium", -5.80), ("tungsten-carbide", "steel", -3.50), ("steel", "steel", 0.0)],
)
def test_stack_against_part_at_25_degrees(stack: str, part: str, apart: float) -> None:
    """A 100 mm part that fits the stack at 25 °C is shorter at 20 °C by L (a_p - a_s) 5 K."""
    conditions = Conditions(temperature=exactly(25.0), part=Part(material=part))

    found = growth([block(mm("100"), stack)], conditions)

    # The full model differs from the product in the table by its second order, 1e-4 of it.
    assert found.growth / QUANTA["um"] == pytest.approx(apart, abs=1e-3)
    assert found.correction == -found.growth


def test_each_block_grows_by_its_own_material() -> None:
    """50 mm of steel and 50 mm of carbide, 10 K: 5.75 µm + 2.25 µm."""
    blocks = [block(mm("50"), "steel"), block(mm("50"), "tungsten-carbide")]

    found = growth(blocks, Conditions(temperature=exactly(30.0)))

    assert found.growth == um("8")


def test_uncertainty_of_the_coefficient() -> None:
    """100 mm of steel at 25 °C, coefficient within ±1e-6/K: 0.289 µm."""
    found = growth([block(mm("100"), "steel")], Conditions(temperature=exactly(25.0)))

    assert found.standard_uncertainty_nm == pytest.approx(288.7, abs=0.1)


def test_steel_against_steel_is_not_without_uncertainty() -> None:
    """Coefficients that differ by up to ±1e-6/K: 0.29 µm for 100 mm at 25 °C."""
    part = Part(material="steel", expansion_difference=rectangular(0.0, 1.0))
    conditions = Conditions(temperature=exactly(25.0), part=part)

    found = growth([block(mm("100"), "steel")], conditions)

    assert found.growth == 0
    assert found.standard_uncertainty_nm == pytest.approx(288.7, abs=0.1)


def test_gradient_between_stack_and_part() -> None:
    """A part 0.5 K warmer than the stack at 20 °C looks 0.575 µm too long on 100 mm of steel."""
    part = Part(material="steel", temperature_difference=rectangular(0.5, 0.2))
    conditions = Conditions(temperature=exactly(20.0), part=part)

    found = growth([block(mm("100"), "steel")], conditions)

    assert found.growth / QUANTA["um"] == pytest.approx(-0.575, abs=1e-5)
    # 1150 nm/K by 0.2 K over the root of 3 is 132.8 nm; the coefficient of a workpiece of steel,
    # known to 2e-6/K, adds 57.7 nm by 0.5 K, and 13.3 nm of second order.
    assert found.standard_uncertainty_nm == pytest.approx(145.4, abs=0.1)
