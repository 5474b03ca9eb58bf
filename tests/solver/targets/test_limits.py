"""Limits of size: GO and NOT GO, one-sided, steps, tolerance classes and general tolerances."""

import pytest

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung.lengths import inch, mm, um
from wrung.targets import FitTarget, GeneralToleranceTarget, LimitsTarget, Target
from wrung.targets.limit_pair import Feature


def lengths(target: Target) -> dict[str, int]:
    return {requirement.role or "": requirement.length for requirement in target.requirements()}


class TestLimits:
    @pytest.mark.parametrize(
        ("feature", "lower", "upper"),
        [("internal", "go", "not_go"), ("external", "not_go", "go"), ("step", "lower", "upper")],
    )
    def test_the_feature_says_which_limit_is_go(
        self, feature: Feature, lower: str, upper: str
    ) -> None:
        """GO is the limit of most material: common practice, Taylor's principle, no source."""
        target = LimitsTarget(ref="a", feature=feature, lower=mm("8"), upper=mm("8.02"))

        assert lengths(target) == {lower: mm("8"), upper: mm("8.02")}

    def test_nominal_with_deviations_is_the_same_as_its_limits(self) -> None:
        stated = LimitsTarget(
            ref="a", nominal=mm("8"), lower_deviation=-um("5"), upper_deviation=um("20")
        )

        assert lengths(stated) == {"go": mm("7.995"), "not_go": mm("8.02")}

    def test_one_limit_alone_takes_one_stack(self) -> None:
        assert lengths(LimitsTarget(ref="a", lower=mm("8"))) == {"go": mm("8")}
        assert lengths(LimitsTarget(ref="a", nominal=mm("8"), upper_deviation=um("9"))) == {
            "not_go": mm("8.009")
        }

    def test_stacks_can_be_rounded_into_the_tolerance(self) -> None:
        """25 js6 is 24.9935 to 25.0065 mm; its gap gauges to whole micrometres are stricter."""
        target = FitTarget(ref="s", nominal=mm("25"), tolerance_class="js6", rounded_to=mm("0.001"))

        assert lengths(target) == {"not_go": mm("24.994"), "go": mm("25.006")}
        assert target.results(()).limits.gauges[0].limit == mm("24.9935")

    def test_a_bore_in_inches_takes_stacks_that_inch_blocks_make_up(self) -> None:
        """H7 of 31.75 mm is 25 µm (ISO 286-1, 30 to 50 mm) or 0.00098 in, so 0.0009 in."""
        target = FitTarget(
            ref="s", nominal=inch("1.25"), tolerance_class="H7", rounded_to=inch("0.0001")
        )

        assert lengths(target) == {"go": inch("1.25"), "not_go": inch("1.2509")}

    @pytest.mark.parametrize(
        ("target", "at"),
        [
            (
                LimitsTarget(ref="a", lower=mm("8.1"), upper=mm("8.2"), rounded_to=0),
                {"/rounded_to"},
            ),
            (
                LimitsTarget(ref="a", lower=mm("8.1"), upper=mm("8.2"), rounded_to=mm("5")),
                {"/rounded_to"},
            ),
            (LimitsTarget(ref="a"), {""}),
            (LimitsTarget(ref="a", nominal=mm("8")), {""}),
            (LimitsTarget(ref="a", lower=mm("8"), upper=mm("8")), {"/upper"}),
            (LimitsTarget(ref="a", lower=0, upper=mm("8")), {"/lower"}),
            (LimitsTarget(ref="a", nominal=mm("8"), lower=mm("7")), {"/lower"}),
            (LimitsTarget(ref="a", lower_deviation=5), {"/nominal"}),
            (
                LimitsTarget(ref="a", nominal=mm("1"), lower_deviation=-mm("2")),
                {"/lower_deviation"},
            ),
            (
                LimitsTarget(ref="a", nominal=mm("8"), lower_deviation=9, upper_deviation=5),
                {"/upper_deviation"},
            ),
        ],
    )
    def test_contradictions_are_pointed_at(self, target: LimitsTarget, at: set[str]) -> None:
        assert pointers(target) == at

    def test_the_result_says_what_each_stack_really_stands_for(self, make_stack: MakeStack) -> None:
        target = LimitsTarget(ref="a", lower=mm("8"), upper=mm("8.02"))
        go = make_stack("a/go", mm("8"), deviation=um("0.3"), margin=um("0.2"))
        not_go = make_stack("a/not_go", mm("8.02"), deviation=-um("1"), margin=um("0.2"))

        found = target.results([not_go, go]).limits

        assert found.tolerance == mm("0.02")
        assert [gauge.role for gauge in found.gauges] == ["go", "not_go"]
        stacks = [gauge.stack for gauge in found.gauges]
        assert [(s.error, s.margin) for s in stacks if s] == [
            (um("0.3"), um("0.2")),
            (-um("1"), um("0.2")),
        ]
        # 20 µm over twice 1.2 µm, rounded down.
        assert str(found.test_uncertainty_ratio) == "8.33"

    def test_a_ratio_below_ten_is_remarked(self, make_stack: MakeStack) -> None:
        target = LimitsTarget(ref="a", lower=mm("8"), upper=mm("8.02"))
        # The coverage factor of 95.45 % is 2.00002.
        fine = target.results([make_stack("a/go", mm("8"), margin=um("0.9999"))])
        coarse = target.results([make_stack("a/go", mm("8"), margin=um("1.001"))])

        assert fine.remarks == ()
        assert [said.key for said in coarse.remarks] == ["ratio.worst_case"]


class TestFit:
    def test_a_keyway(self) -> None:
        """12 P9 is 11.939 to 11.982 mm, see the reference tests."""
        target = FitTarget(ref="k", nominal=mm("12"), tolerance_class="P9")

        assert lengths(target) == {"go": mm("11.939"), "not_go": mm("11.982")}

    def test_a_shaft_has_its_go_at_the_upper_limit(self) -> None:
        target = FitTarget(ref="s", nominal=mm("25"), tolerance_class="g6")

        assert lengths(target) == {"not_go": mm("24.98"), "go": mm("24.993")}

    def test_clearances_of_a_fit(self) -> None:
        """25 H7/g6 has 7 to 41 µm: README of the package pressfit."""
        for own, mate in (("H7", "g6"), ("g6", "H7")):
            found = FitTarget(
                ref="f", nominal=mm("25"), tolerance_class=own, mating_class=mate
            ).results(())
            assert (found.minimum_clearance, found.maximum_clearance) == (um("7"), um("41"))

    @pytest.mark.parametrize(
        ("nominal", "own", "mate", "at"),
        [
            ("25", "Q7", None, "/tolerance_class"),
            ("25", "", None, "/tolerance_class"),
            ("4000", "H7", None, "/nominal"),
            ("25", "H7", "G6", "/mating_class"),
            ("25", "H7", "z99", "/mating_class"),
            ("0.01", "d9", None, "/nominal"),
        ],
    )
    def test_faults(self, nominal: str, own: str, mate: str | None, at: str) -> None:
        target = FitTarget(ref="f", nominal=mm(nominal), tolerance_class=own, mating_class=mate)

        assert pointers(target) == {at}


class TestGeneralTolerance:
    def test_a_size_of_the_medium_class(self) -> None:
        target = GeneralToleranceTarget(ref="g", nominal=mm("40"), general_class="m")

        assert lengths(target) == {"go": mm("39.7"), "not_go": mm("40.3")}

    def test_a_size_outside_the_standard(self) -> None:
        target = GeneralToleranceTarget(ref="g", nominal=mm("0.4"), general_class="m")

        assert pointers(target) == {"/nominal"}
