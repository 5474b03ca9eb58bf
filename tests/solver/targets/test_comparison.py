"""Comparison with a setting stack, and settings between jaws."""

from decimal import Decimal

import pytest
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung.lengths import mm, um
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

    def test_a_warm_aluminium_part_reads_more_on_a_warm_steel_stack(self) -> None:
        """(23.1 - 11.5) x 5 K x 100 mm is 5.80 µm; Swyt, J. Res. NIST 99 (1994) 31, by hand."""
        warm = Decimal(25)
        target = replace(
            PART, part_material="aluminium", part_temperature=warm, block_temperature=warm
        )

        found = target.results(())

        assert found.temperature_offset == um("5.8")
        assert found.reading_at_lower == um("15.8")

    def test_same_material_and_temperature_cancel(self) -> None:
        warm = replace(PART, part_temperature=Decimal(27), block_temperature=Decimal(27))

        assert warm.results(()).temperature_offset == 0

    def test_an_indicator_that_does_not_reach_or_is_too_coarse_is_remarked(self) -> None:
        target = replace(PART, indicator_range=um("29"), scale_interval=um("3"))

        keys = [said.key for said in target.results(()).remarks]

        assert keys == ["comparison.range", "comparison.scale"]
        fine = replace(PART, indicator_range=um("30"), scale_interval=um("2"))
        assert fine.results(()).remarks == ()

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

    def test_an_accessory_that_subtracts_makes_the_stack_longer(self) -> None:
        spacer = Accessory(thickness=mm("2"), effect="subtracts")
        target = BetweenJawsTarget(ref="j", size=mm("10"), accessories=(spacer,))

        assert [r.length for r in target.requirements()] == [mm("12")]

    def test_readings_of_a_bore_gauge_at_the_works_limits(self, make_stack: MakeStack) -> None:
        target = replace(self.target, lower_deviation=0, upper_deviation=um("25"))

        found = target.results([make_stack("j", mm("32.13"))])

        assert (found.reading_at_lower, found.reading_at_upper) == (-um("1"), um("24"))

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
