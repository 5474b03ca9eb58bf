"""Budgets of angles and sizes by rolls, balls and wires against the GUM Tree Calculator.

GTC (PyPI, Measurement Standards Laboratory of NZ) differentiates the model by itself: the formulas
of the textbooks are all that is given to it.
"""

from decimal import Decimal
from math import pi, sqrt
from typing import Literal

import GTC  # type: ignore[import-untyped]  # has no type information
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from wrung.angles import SECOND, angle
from wrung.answers import PlacedBlock, Stack
from wrung.blocks import Block
from wrung.lengths import QUANTA, mm, um
from wrung.metrology.conditions import STANDARD
from wrung.targets import (
    DovetailTarget,
    ExternalTaperTarget,
    InternalTaperTarget,
    ThreadWiresTarget,
    TwoRollsTarget,
    VBlockTarget,
)
from wrung.targets.built import BudgetedStack, budgeted
from wrung.targets.contributions import AngleBudget
from wrung.targets.roll_contact import RollContact

MM = QUANTA["mm"]
STACK_U = 0.0004  # mm, expanded, of every stack


def stack(length: int, role: str | None = None) -> BudgetedStack:
    """A single certified block of just that length."""
    margin = um("0.4")
    block = Block(id="b", nominal=length, deviation=0, expanded_uncertainty=margin)
    made = Stack(
        target="t",
        role=role,
        length=length,
        nominal=length,
        joints=0,
        blocks=(PlacedBlock(id="b", nominal=length),),
        deviation=0,
        worst_case_error=margin,
    )
    return budgeted(made, {"b": block}, STANDARD, 0)


def agree(budget: AngleBudget | None, model: GTC.ureal, inputs: dict[str, GTC.ureal]) -> None:
    """Every contribution, with its sign, and what they come to; the model is in radians."""
    assert budget is not None
    seconds = 180 * 3600 / pi
    for row in budget.contributions:
        own = GTC.component(model, inputs[row.quantity]) * seconds
        assert row.contribution / SECOND == pytest.approx(abs(own), rel=1e-4, abs=1e-6)
        slope = GTC.rp.sensitivity(model, inputs[row.quantity]) * seconds / 1000
        assert float(row.sensitivity) == pytest.approx(slope, rel=1e-3, abs=2e-5)
    whole = GTC.uncertainty(model) * seconds
    assert budget.standard_uncertainty / SECOND == pytest.approx(whole, rel=1e-4)


def test_a_taper_over_two_rolls() -> None:
    target = ExternalTaperTarget(
        ref="t",
        included_angle=angle("8"),
        small_end=mm("20"),
        roll_diameter=mm("10"),
        stack_length=mm("30"),
        measured_low=mm("40.7"),
        measured_high=mm("44.9"),
        size_uncertainty=um("1.2"),
    )
    found = target.results([stack(mm("30"), "left"), stack(mm("30"), "right")])

    inputs = {
        "measured_low": GTC.ureal(40.7, 0.0006),
        "measured_high": GTC.ureal(44.9, 0.0006),
        "left": GTC.ureal(30.0, STACK_U / 2),
        "right": GTC.ureal(30.0, STACK_U / 2),
    }
    rise = inputs["measured_high"] - inputs["measured_low"]
    agree(found.angle_budget, 2 * GTC.atan(rise / (inputs["left"] + inputs["right"])), inputs)


def test_a_taper_by_two_balls() -> None:
    target = InternalTaperTarget(
        ref="t",
        included_angle=angle("10"),
        large_end=mm("30"),
        large_ball=mm("26"),
        small_ball=mm("18"),
        measured_large_ball_depth=mm("9.3"),
        measured_small_ball_depth=mm("59.2"),
        depth_uncertainty=um("2"),
        ball_uncertainty=um("0.6"),
    )
    stacks = [stack(each.length, each.role) for each in target.requirements()]
    depth = (0.001**2 + (STACK_U / 2) ** 2) ** 0.5

    inputs = {
        "measured_large_ball_depth": GTC.ureal(9.3, depth),
        "measured_small_ball_depth": GTC.ureal(59.2, depth),
        "large_ball": GTC.ureal(26.0, 0.0003),
        "small_ball": GTC.ureal(18.0, 0.0003),
    }
    radii = (inputs["large_ball"] - inputs["small_ball"]) / 2
    tops = inputs["measured_small_ball_depth"] - inputs["measured_large_ball_depth"]
    agree(target.results(stacks).angle_budget, 2 * GTC.asin(radii / (tops - radii)), inputs)


@pytest.mark.parametrize("arrangement", ["on_plate", "straight_edges"])
@pytest.mark.parametrize("force", [None, Decimal(20)])
def test_two_rolls(
    arrangement: Literal["on_plate", "straight_edges"], force: Decimal | None
) -> None:
    contact = force and RollContact(force_newtons=force, contact_length=mm("9"))
    target = TwoRollsTarget(
        ref="t",
        angle=angle("20"),
        large_roll=mm("25"),
        small_roll=mm("10"),
        arrangement=arrangement,
        roll_uncertainty=um("0.5"),
        contact=contact or None,
    )
    (wanted,) = target.requirements()

    inputs = {
        "stack": GTC.ureal(target.exact_length() / MM, STACK_U / 2),
        "large_roll": GTC.ureal(25.0, 0.00025),
        "small_roll": GTC.ureal(10.0, 0.00025),
    }
    result = target.results([stack(wanted.length)])
    pressed = GTC.ureal(0.0, 0.0)
    if result.compression is not None and result.compression_limits is not None:
        limits = result.compression_limits / MM
        pressed = inputs["compression"] = GTC.ureal(result.compression / MM, limits / sqrt(3))
        assert 0 < limits < result.compression / MM < 0.002
    centres = inputs["stack"] - pressed + (inputs["large_roll"] + inputs["small_roll"]) / 2
    ratio = (inputs["large_roll"] - inputs["small_roll"]) / 2 / centres
    model = 2 * (GTC.atan(ratio) if arrangement == "on_plate" else GTC.asin(ratio))
    agree(result.angle_budget, model, inputs)
    assert ("contact.left_out" in {each.key for each in result.remarks}) == (force is None)


@given(st.decimals("0.5", "20", places=1), st.integers(mm("3"), mm("35")))
def test_a_force_makes_the_stack_longer_by_what_it_presses_in(force: Decimal, length: int) -> None:
    plain = TwoRollsTarget(ref="t", angle=angle("20"), large_roll=mm("25"), small_roll=mm("10"))
    contact = RollContact(force_newtons=force, contact_length=length)
    pressed = replace(plain, contact=contact)
    compression = pressed.results(()).compression or 0

    assert compression > 0
    assert pressed.exact_length() - plain.exact_length() == compression
    assert pressed.angle_with(pressed.exact_length()) == plain.angle_with(plain.exact_length())
    assert pressed.sensitivity() == plain.sensitivity()


@pytest.mark.parametrize(("form", "sign"), [("male", 1), ("female", -1)])
def test_a_dovetail(form: Literal["male", "female"], sign: int) -> None:
    target = DovetailTarget(
        ref="t",
        form=form,
        angle=angle("60"),
        width=mm("50"),
        roll_diameter=mm("8"),
        roll_uncertainty=um("0.8"),
        angle_uncertainty=40 * SECOND,
        comparison_uncertainty=um("1"),
    )
    (wanted,) = target.requirements()
    budget = target.results([stack(wanted.length)]).width_budget
    assert budget is not None

    flank = GTC.ureal(pi / 3, 20 / 3600 * pi / 180)
    over = GTC.ureal(wanted.length / MM, STACK_U / 2) + GTC.ureal(0.0, 0.0005)
    width = over - sign * GTC.ureal(8.0, 0.0004) * (1 + 1 / GTC.tan(flank / 2))
    assert budget.standard_uncertainty / MM == pytest.approx(GTC.uncertainty(width), rel=1e-4)
    turned = GTC.rp.sensitivity(width, flank) * pi / 180 / 3600
    assert (budget.contributions[-1].change_per_second or 0) / MM == pytest.approx(turned, rel=1e-4)


def test_a_cylinder_in_a_v_block() -> None:
    target = VBlockTarget(
        ref="t",
        cylinder_diameter=mm("32.15"),
        master_diameter=mm("30"),
        master_height=mm("68.4"),
        master_uncertainty=um("0.6"),
        height_uncertainty=um("1"),
        angle_uncertainty=60 * SECOND,
    )
    (wanted,) = target.requirements()
    found = target.results([stack(wanted.length)]).cylinder_diameter

    half = GTC.ureal(pi / 2, 30 / 3600 * pi / 180) / 2
    rise = GTC.ureal(wanted.length / MM, STACK_U / 2) - GTC.ureal(68.4, 0.0005)
    size = GTC.ureal(30.0, 0.0003) + 2 * rise / (1 + 1 / GTC.sin(half))
    assert found.size_budget is not None
    assert found.size_budget.standard_uncertainty / MM == pytest.approx(
        GTC.uncertainty(size), rel=1e-4
    )


def test_a_thread_over_wires() -> None:
    """The model of handbooks, whose correction for the lead differs by far too little to count."""
    target = ThreadWiresTarget(
        ref="t",
        pitch=mm("1.5"),
        pitch_diameter=mm("9.026"),
        wire_diameter=mm("0.9"),
        wire_uncertainty=um("0.4"),
        pitch_uncertainty=um("3"),
        angle_uncertainty=600 * SECOND,
    )
    (wanted,) = target.requirements()
    found = target.results([stack(wanted.length)]).pitch_diameter

    half = GTC.ureal(pi / 3, 300 / 3600 * pi / 180) / 2
    wire, pitch = GTC.ureal(0.9, 0.0002), GTC.ureal(1.5, 0.0015)
    over = GTC.ureal(wanted.length / MM, STACK_U / 2)
    size = over - wire * (1 + 1 / GTC.sin(half)) + pitch / 2 / GTC.tan(half)
    assert found.size_budget is not None
    assert found.size_budget.standard_uncertainty / MM == pytest.approx(
        GTC.uncertainty(size), rel=5e-3
    )
