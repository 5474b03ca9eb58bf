"""Comparison with a setting stack, and settings between jaws."""

from decimal import Decimal

import pytest
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung.lengths import mm, um
from wrung.metrology.conditions import STANDARD, Conditions, Part
from wrung.metrology.quantities import exactly, rectangular
from wrung.targets import Accessory, BetweenJawsTarget, ComparisonTarget

PART = ComparisonTarget(
    ref="p", nominal=mm("100"), lower_deviation=um("10"), upper_deviation=um("30")
)


class TestComparison:
    def test_the_stack_is_the_nominal_size_or_the_middle(self) -> None:
        middle = replace(PART, set_to="middle")

        assert [r.length for r in PART.requirements()] == [mm("100")]
        assert [r.length for r in middle.requirements()] == [mm("100.02")]

    def test_readings_count_from_the_stack_as_built(self, make_stack: MakeStack) -> None:
        found = PART.results([make_stack("p", mm("100"), deviation=um("1.5"))])

        assert (found.reading_at_lower, found.reading_at_upper) == (um("8.5"), um("28.5"))

    @pytest.mark.parametrize(
        ("blocks", "part", "degrees", "offset"),
        [
            # By hand: 100 mm x (part - blocks) x K; expansions 23.1, 11.5, 9.2 and 4.5e-6/K
            # (Swyt, J. Res. NIST 99 (1994) 31, and the NIST handbook, see the reference tests).
            ("steel", "aluminium", 5, "5.8"),
            ("zirconia", "steel", 3, "0.69"),
            ("tungsten-carbide", "steel", 3, "2.1"),
            ("steel", "steel", 7, "0"),
        ],
    )
    def test_part_and_blocks_grow_by_their_own_materials(
        self, make_stack: MakeStack, blocks: str, part: str, degrees: int, offset: str
    ) -> None:
        warm = Decimal(20 + degrees)
        target = replace(PART, part_material=part, part_temperature=warm, block_temperature=warm)
        stack = make_stack("p", mm("100"), material=blocks, conditions=target.in_use(STANDARD))

        found = target.results([stack])

        # The part's size at 20 °C, so that the part's own stretch of it is left: 1e-4 at most.
        assert found.temperature_offset == pytest.approx(um(offset), rel=2e-4)
        assert found.reading_at_lower == um("10") + (found.temperature_offset or 0)

    def test_a_part_is_as_warm_as_the_stack_unless_it_says(self) -> None:
        warm = replace(PART, block_temperature=Decimal(27)).in_use(STANDARD)
        part = replace(PART, part_temperature=Decimal(27)).in_use(STANDARD)

        assert warm.part
        assert (warm.excess.estimate, warm.part.temperature_difference.estimate) == (7, 0)
        assert part.part
        assert (part.excess.estimate, part.part.temperature_difference.estimate) == (0, 7)

    def test_without_any_temperature_there_is_no_part(self) -> None:
        assert PART.in_use(STANDARD) == STANDARD

    def test_the_target_goes_before_the_conditions_and_keeps_how_sure_they_are(self) -> None:
        known = Conditions(temperature=rectangular(22, 0.5), part=Part(material="brass"))

        found = replace(PART, block_temperature=Decimal(23)).in_use(known)

        assert found.temperature == rectangular(23, 0.5)
        assert found.part == Part(material="brass")

    def test_without_a_stack_there_is_no_reading(self) -> None:
        found = PART.results(())

        assert found.reading_at_lower is found.temperature_offset is None

    def test_an_indicator_that_does_not_reach_or_is_too_coarse_is_remarked(
        self, make_stack: MakeStack
    ) -> None:
        stack = [make_stack("p", mm("100"))]
        target = replace(PART, indicator_range=um("29"), scale_interval=um("3"))

        keys = [said.key for said in target.results(stack).remarks]

        assert keys == ["comparison.range", "comparison.scale"]
        fine = replace(PART, indicator_range=um("30"), scale_interval=um("2"))
        assert fine.results(stack).remarks == ()

    def test_faults(self) -> None:
        bad = replace(
            PART,
            lower_deviation=um("30"),
            part_material="cheese",
            block_temperature=Decimal(1000),
        )

        assert pointers(bad) == {"/upper_deviation", "/part_material", "/block_temperature"}
        assert "/nominal" in pointers(replace(PART, nominal=0))


class TestBetweenJaws:
    jaw = Accessory(
        thickness=mm("5"), effect="adds", deviation=um("0.5"), expanded_uncertainty=um("0.2")
    )
    target = BetweenJawsTarget(ref="j", size=mm("42.13"), accessories=(jaw, jaw))

    def test_round_jaws_add_their_thickness(self, make_stack: MakeStack) -> None:
        assert [r.length for r in self.target.requirements()] == [mm("32.13")]

        found = self.target.results([make_stack("j", mm("32.13"), margin=um("0.4"))])

        assert (found.setting, found.error, found.margin) == (
            mm("42.131"),
            um("1"),
            um("0.8"),
        )

    def test_a_coefficient_of_its_own_goes_before_that_of_the_material(
        self, make_stack: MakeStack
    ) -> None:
        """Two jaws of 5 mm that grow by 2e-6/K more than steel, 10 K above 20 °C: 0.2 µm."""
        warm = Conditions(temperature=exactly(30.0), part=Part(material="steel"))
        own = replace(self.jaw, expansion=Decimal("13.5"))
        usual, grown = (
            replace(self.target, accessories=(jaw, jaw), lower_deviation=0)
            for jaw in (self.jaw, own)
        )
        stack = make_stack("j", mm("32.13"), conditions=warm)
        before, after = (each.results([stack]).reading_at_lower for each in (usual, grown))

        assert before is not None
        assert after is not None
        assert before - after == pytest.approx(um("0.2"), rel=1e-3)

    def test_an_accessory_that_subtracts_makes_the_stack_longer(self) -> None:
        spacer = Accessory(thickness=mm("2"), effect="subtracts")
        target = BetweenJawsTarget(ref="j", size=mm("10"), accessories=(spacer,))

        assert [r.length for r in target.requirements()] == [mm("12")]

    def test_readings_of_a_bore_gauge_at_the_works_limits(self, make_stack: MakeStack) -> None:
        target = replace(self.target, lower_deviation=0, upper_deviation=um("25"))

        found = target.results([make_stack("j", mm("32.13"))])

        assert (found.reading_at_lower, found.reading_at_upper) == (-um("1"), um("24"))

    def test_readings_hold_the_temperature_of_setting_and_work(self, make_stack: MakeStack) -> None:
        """By hand: 42.13 mm, aluminium over steel, 5 K: 11.6e-6/K, 2.4435 µm."""
        target = replace(self.target, lower_deviation=0, upper_deviation=um("25"))
        warm = Conditions(temperature=exactly(25), part=Part(material="aluminium"))

        found = target.results([make_stack("j", mm("32.13"), conditions=target.in_use(warm))])

        assert found.temperature_offset == pytest.approx(um("2.4435"), rel=2e-4)
        assert found.reading_at_lower == (found.temperature_offset or 0) - um("1")

    def test_a_tolerance_that_is_too_narrow_is_remarked(self, make_stack: MakeStack) -> None:
        """±0.3 µm of the stack and twice 0.2 µm of the jaws; by squares 0.412 µm."""
        target = replace(self.target, lower_deviation=0, upper_deviation=um("5"))

        found = target.results([make_stack("j", mm("32.13"), margin=um("0.3"))])

        assert [said.key for said in found.remarks] == ["ratio.worst_case"]
        assert float(found.test_uncertainty_ratio or 0) == pytest.approx(5 / 2 / 0.41231, abs=0.01)

    @pytest.mark.parametrize(
        ("target", "at"),
        [
            (BetweenJawsTarget(ref="j", size=0), "/size"),
            (replace(target, size=mm("10")), "/accessories"),
            (replace(target, accessories=(replace(jaw, thickness=0),)), "/accessories/0/thickness"),
            (replace(target, lower_deviation=5, upper_deviation=5), "/upper_deviation"),
        ],
    )
    def test_faults(self, target: BetweenJawsTarget, at: str) -> None:
        assert at in pointers(target)
