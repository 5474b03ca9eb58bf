"""Rolls and pins under a force: what stacks, sizes and budgets make of the compression.

The compression itself is held to published formulas in `tests/reference/test_estimates.py`.
"""

from decimal import Decimal
from math import sqrt
from typing import Final, TypeAlias

import pytest
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from wrung.angles import angle
from wrung.errors import InputError
from wrung.handwork.uses import uses
from wrung.lengths import mm
from wrung.metrology.contact import roll_contact
from wrung.targets import (
    CentreDistanceTarget,
    DovetailTarget,
    ExternalTaperTarget,
    RadiusGaugeTarget,
    TwoRollsTarget,
)
from wrung.targets.contributions import SizeBudget
from wrung.targets.roll_contact import RollContact

Pressed: TypeAlias = CentreDistanceTarget | DovetailTarget | RadiusGaugeTarget | TwoRollsTarget

FORCE: Final = RollContact(force_newtons=Decimal(10), contact_length=mm("9"))
FINE: Final = mm("0.00001")
JIG: Final = CentreDistanceTarget(
    ref="t", centre_distance=mm("60"), first_pin=mm("10"), second_pin=mm("12"), step=FINE
)
EDGE: Final = replace(JIG, second_pin=None, measured_to="edge")
ARC: Final = RadiusGaugeTarget(
    ref="t", form="convex", radius=mm("40"), roll_diameter=mm("10"), step=FINE
)
SLIDE: Final = DovetailTarget(
    ref="t", form="male", angle=angle("60"), width=mm("50"), roll_diameter=mm("8"), step=FINE
)
ROLLS: Final = TwoRollsTarget(
    ref="t", angle=angle("20"), large_roll=mm("25"), small_roll=mm("10"), step=FINE
)
CASES: Final[list[tuple[Pressed, tuple[str, ...], int]]] = [
    (JIG, ("10", "12"), 1),
    (replace(JIG, stack_position="over"), ("10", "12"), -1),
    (EDGE, ("10",), 1),
    (replace(EDGE, stack_position="over"), ("10",), -1),
    (ARC, ("10", "10"), -1),
    (replace(ARC, form="concave"), ("10",), 1),
    (SLIDE, ("8", "8"), -1),
    (replace(SLIDE, form="female"), ("8", "8"), 1),
    (ROLLS, ("25", "10"), 1),
]


def compressed(*rolls: str) -> int:
    """By the rolls that stack or measuring faces touch, one after another."""
    return sum(
        roll_contact(
            10.0,
            roll_diameter=mm(roll),
            contact_length=mm("9"),
            roll_material="steel",
            other_material="steel",
        ).compression
        for roll in rolls
    )


@pytest.mark.parametrize(("plain", "rolls", "sign"), CASES)
def test_between_rolls_a_stack_is_longer_and_over_them_shorter(
    plain: Pressed, rolls: tuple[str, ...], sign: int, make_stack: MakeStack
) -> None:
    pressed = replace(plain, contact=FORCE)
    (one,), (other,) = plain.requirements(), pressed.requirements()
    found = pressed.results([make_stack("t", other.length)])

    assert found.compression == compressed(*rolls) > mm("0.00003")
    # Both are rounded to the step.
    assert abs(other.length - one.length - sign * found.compression) <= FINE
    key = "contact.longer" if sign > 0 else "contact.shorter"
    assert [each.key for each in found.remarks] == [key]
    used = "use.rolls_pressed" if sign > 0 else "use.rolls_measured"
    assert [said.key for _, said in uses(pressed, found, ())] == [used]
    left_out = plain.results([make_stack("t", one.length)])
    assert (left_out.compression, left_out.compression_limits) == (None, None)
    assert [each.key for each in left_out.remarks] == ["contact.left_out"]


@pytest.mark.parametrize(("plain", "rolls", "sign"), CASES[:-1])
def test_the_size_does_not_change_and_the_limits_are_in_its_budget(
    plain: CentreDistanceTarget | DovetailTarget | RadiusGaugeTarget,
    rolls: tuple[str, ...],
    sign: int,
    make_stack: MakeStack,
) -> None:
    pressed = replace(plain, contact=FORCE)
    longer = sign * compressed(*rolls)
    (wanted,) = plain.requirements()
    one = plain.results([make_stack("t", wanted.length)])
    other = pressed.results([make_stack("t", wanted.length + longer)])

    assert size_of(other) == size_of(one)
    budget = budget_of(other)
    (row,) = [each for each in budget.contributions if each.quantity == "compression"]
    (stack,) = [each for each in budget.contributions if each.quantity == "stack"]
    assert row.standard_uncertainty == pytest.approx(
        (other.compression_limits or 0) / sqrt(3), abs=1
    )
    assert abs(row.sensitivity or 0) == abs(stack.sensitivity or 0)


def size_of(result: object) -> int | None:
    """The size that the stack as built stands for."""
    width: int | None = getattr(result, "width", None)
    found = getattr(result, "centre_distance", None) or getattr(result, "radius", None)
    size: int | None = width if found is None else found.size_as_built
    assert size is not None
    return size


def budget_of(result: object) -> SizeBudget:
    found = getattr(result, "centre_distance", None) or getattr(result, "radius", None)
    budget = getattr(result, "width_budget", None) if found is None else found.size_budget
    assert isinstance(budget, SizeBudget)
    return budget


def test_over_a_taper_both_sizes_are_smaller_and_the_angle_is_not() -> None:
    plain = ExternalTaperTarget(
        ref="t",
        included_angle=angle("8"),
        small_end=mm("20"),
        roll_diameter=mm("10"),
        stack_length=mm("30"),
        measured_low=mm("40.7"),
        measured_high=mm("44.9"),
    )
    less = compressed("10", "10")
    one = plain.results(())
    other = replace(plain, contact=FORCE).results(())

    assert other.expected_low == one.expected_low - less
    assert other.expected_high == one.expected_high - less
    assert (other.measured_small_end or 0) == (one.measured_small_end or 0) + less
    assert other.measured_angle == one.measured_angle


@pytest.mark.parametrize("plain", [JIG, EDGE, ARC, SLIDE, ROLLS])
def test_a_force_that_is_none_or_too_large_is_refused_at_its_member(plain: Pressed) -> None:
    for force in (0, -1, 10**7):
        pressed = replace(plain, contact=replace(FORCE, force_newtons=Decimal(force)))
        with pytest.raises(InputError) as refused:
            pressed.requirements()
        assert [each.pointer for each in refused.value.faults] == ["/contact/force_newtons"]
