"""Random stacks and conditions for tests; the same seed gives the same cases."""

from datetime import date, timedelta
from random import Random

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.lengths import mm, um
from wrung.metrology.conditions import Conditions, Part
from wrung.metrology.quantities import Quantity, arcsine, normal, rectangular, triangular

NOMINALS = ("1.005", "1.04", "1.3", "2.5", "7", "10", "25", "50", "100")
MATERIALS = ("steel", "tungsten-carbide", "zirconia")
CALIBRATED = date(2026, 3, 31)
FREEDOMS = (None, 8.0, 18.0, 50.0)


def random_stack(random: Random, *, freedoms: tuple[float | None, ...] = FREEDOMS) -> list[Block]:
    """Two to six blocks of up to two materials and two certificates, some without."""
    nominals = random.sample(NOMINALS, random.randint(2, 6))
    return [_block(random, f"b{i}", nominal, freedoms) for i, nominal in enumerate(nominals)]


def _block(random: Random, name: str, nominal: str, freedoms: tuple[float | None, ...]) -> Block:
    material = random.choice(MATERIALS[:2])
    if random.random() < 0.25:
        return Block(id=name, nominal=mm(nominal), grade="1", material=material)
    return Block(
        id=name,
        nominal=mm(nominal),
        deviation=random.randint(-20_000, 20_000),
        expanded_uncertainty=random.randint(2_000, 9_000),
        grade=random.choice(("0", "1")),
        material=material,
        calibration=Calibration(
            certificate=random.choice(("4711", "4712")),
            calibrated_on=CALIBRATED - timedelta(days=random.randint(0, 400)),
            degrees_of_freedom=random.choice(freedoms),
            variation=um("0.08"),
        ),
    )


def random_conditions(random: Random, *, freedoms: tuple[float, ...] = (2.0, 12.0)) -> Conditions:
    """A temperature, mostly a part, sometimes one that follows the blocks' steel."""
    freedom = random.choice((*freedoms, float("inf")))
    return Conditions(
        used_on=CALIBRATED + timedelta(days=random.randint(1, 700)),
        temperature=_swinging(random, 20 + random.uniform(-3, 5), freedom),
        part=_part(random) if random.random() < 0.8 else None,
        off_centre=random.random(),
        correlation=random.choice((0.0, 0.3, 1.0)),
        wringing=rectangular(0.0, 1_500.0),
    )


def _swinging(random: Random, degrees: float, freedom: float) -> Quantity:
    shape = random.choice((rectangular, triangular, arcsine))
    return shape(degrees, random.uniform(0.05, 1.0), freedom=freedom)


def _part(random: Random) -> Part:
    warmer = normal(random.uniform(-0.5, 0.5), random.uniform(0.01, 0.2))
    if random.random() < 0.3:
        difference = rectangular(0.0, 1.0, freedom=50.0)
        return Part(
            material="steel", expansion_difference=difference, temperature_difference=warmer
        )
    return Part(material=random.choice(("aluminium", "steel")), temperature_difference=warmer)
