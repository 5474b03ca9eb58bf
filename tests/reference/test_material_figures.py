"""Materials against figures typed a second time, and against worked lengths."""

from decimal import Decimal

import pytest

from wrung.materials import Material, all_materials, material
from wrung.metrology.expansion import coefficient_of_material, expansion_of_workpiece

# Confirmed: constants of a public calculation that cites the NIST Gauge Block Handbook and Kaye &
# Laby, 16th ed.; aluminium: Swyt, J. Res. NIST 99 (1994) 31.
CONFIRMED = {
    # id: expansion 1e-6/K, modulus GPa, Poisson's ratio
    "steel": ("11.5", "201.4", "0.296"),
    "tungsten-carbide": ("4.5", "599.84", "0.20"),
    "zirconia": ("9.2", "200", "0.23"),
}
# Read on the web, each where the table says: Jack after Doiron; three makers' pages; the maker's
# technical details for 0 to 50 degC; four pages of alloy C36000; an encyclopaedia and a handbook.
READ_ON_THE_WEB = {
    "chromium-carbide": "8.4",
    "fused-silica": "0.55",
    "zerodur": "0",
    "brass": "20.5",
    "invar": "1.2",
}
# Read in page text of Callister, Materials Science and Engineering, app. B: expansion 1e-6/K (B.6),
# modulus GPa (B.2), density g/cm3 (B.1); None where the page's text stopped.
CALLISTER = {
    "cast-iron": ("11.4", None, "7.30"),
    "ductile-iron": ("11.2", "169", "7.10"),
    "alloy-steel": ("12.3", "207", "7.85"),
    "stainless-304": ("17.2", "193", "8.00"),
    "stainless-316": ("15.9", "193", "8.00"),
    "stainless-440": ("10.2", "200", "7.80"),
    "stainless-17-7ph": ("11.0", "204", "7.65"),
    "titanium": ("8.6", None, None),
    "bronze": ("18.0", None, None),
    "alumina": (None, "380", None),
}
# From memory, not checked against print (as in NIST Monograph 180, table 3.1).
REMEMBERED = {"steel-long": "10.6", "granite": "6.3"}


@pytest.mark.parametrize("name", CONFIRMED)
def test_confirmed_figures(name: str) -> None:
    """Expansion, modulus and Poisson's ratio are those of the handbooks."""
    found = material(name)

    figures = (found.expansion, found.youngs_modulus, found.poissons_ratio)

    assert figures == tuple(Decimal(figure) for figure in CONFIRMED[name])
    assert found.checked == "partly"


def test_aluminium_expands_as_in_swyt() -> None:
    """23.1e-6/K; steel 11.5e-6/K in the same paper."""
    assert material("aluminium").expansion == Decimal("23.1")


@pytest.mark.parametrize("name", READ_ON_THE_WEB)
def test_expansion_read_on_the_web(name: str) -> None:
    """The expansion is the one that was read."""
    assert material(name).expansion == Decimal(READ_ON_THE_WEB[name])
    assert material(name).checked == "partly"


@pytest.mark.parametrize("name", CALLISTER)
def test_figures_of_parts_read_in_a_textbook(name: str) -> None:
    found = material(name)
    known = (found.expansion, found.youngs_modulus, (found.density or 0) / Decimal(1000))

    for figure, printed in zip(known, CALLISTER[name], strict=True):
        assert printed is None or figure == Decimal(printed)


def test_grades_of_one_metal_expand_differently() -> None:
    """A 100 mm part of 304 grows 5.58 um more over 9 K than one of 17-7PH; worked by hand."""
    more = growth_um(material("stainless-304"), 100, 9)
    less = growth_um(material("stainless-17-7ph"), 100, 9)

    assert more - less == Decimal("5.58")


def test_glass_ceramic_does_not_expand_near_20_degrees() -> None:
    """0 within 0.05e-6/K for class 1, 0 to 50 degC, by the maker; 0.05 is a mean to 300 degC."""
    assert material("zerodur").expansion_limits == Decimal("0.05")


def test_a_workpiece_of_steel_is_known_to_2() -> None:
    """GUM (JCGM 100:2008) H.1.3.3: 11.5e-6/K within 2e-6/K."""
    assert material("steel").workpiece_limits == Decimal("2.0")
    assert expansion_of_workpiece("steel").uncertainty == pytest.approx(2 / 3**0.5)


@pytest.mark.parametrize("name", [each.id for each in all_materials()])
def test_no_workpiece_is_known_better_than_a_block(name: str) -> None:
    assert expansion_of_workpiece(name).limit >= coefficient_of_material(name).value.limit


@pytest.mark.parametrize("name", REMEMBERED)
def test_remembered_expansion(name: str) -> None:
    """The expansion is the remembered one, and says so."""
    assert material(name).expansion == Decimal(REMEMBERED[name])
    assert material(name).checked == "no"


def test_every_material_is_typed_a_second_time() -> None:
    """No material enters the library without a line here."""
    known = {found.id for found in all_materials()}

    assert known == {*CONFIRMED, *READ_ON_THE_WEB, *CALLISTER, *REMEMBERED, "aluminium"}


def test_standard_uncertainty_of_the_steel_coefficient() -> None:
    """+/-1e-6 rectangular is u = 0.58e-6 (GUM H.1, JCGM 100:2008, does the same step)."""
    uncertainty = material("steel").expansion_uncertainty

    assert uncertainty is not None
    assert round(uncertainty, 2) == Decimal("0.58")


def test_no_limits_no_uncertainty() -> None:
    """A material whose limits are not known claims no uncertainty."""
    assert material("granite").expansion_uncertainty is None


def growth_um(found: Material, length_mm: int, kelvin: int) -> Decimal:
    return found.expansion * length_mm * 1000 * kelvin / 10**6


@pytest.mark.parametrize(
    ("part", "stack", "expected"),
    [("aluminium", "steel", "5.80"), ("steel", "tungsten-carbide", "3.50")],
)
def test_a_100_mm_part_against_a_stack_at_25_degrees(part: str, stack: str, expected: str) -> None:
    """The apparent difference L (a_part - a_stack) dT; worked figures, no source."""
    part_grows, stack_grows = (growth_um(material(name), 100, 5) for name in (part, stack))

    assert part_grows - stack_grows == Decimal(expected)
