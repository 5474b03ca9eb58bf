"""Budgets of stacks: which rows there are, how they combine, what the totals say."""

from datetime import date
from math import hypot, inf, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wrung.blocks import DEFAULT_JOINT_ALLOWANCE, Block
from wrung.calibrations import Calibration
from wrung.errors import InputError
from wrung.lengths import inch, mm, um
from wrung.metrology.budget import Budget, stack_budget
from wrung.metrology.conditions import STANDARD, Conditions, Extra, Part
from wrung.metrology.quantities import Quantity, exactly, normal, rectangular

CENTRE = Conditions(off_centre=0.0)
NO_JOINTS = 0


def certified(name: str, nominal: str = "10", **calibration: object) -> Block:
    return Block(
        id=name,
        nominal=mm(nominal),
        deviation=um("0.05"),
        expanded_uncertainty=um("0.06"),
        grade="0",
        material="steel",
        calibration=Calibration(**{"certificate": "4711", **calibration}),  # type: ignore[arg-type]
    )


def uncertainty(budget: Budget) -> float:
    return budget.combined.standard_uncertainty_nm


def of_kind(budget: Budget, kind: str) -> list[float]:
    return [row.contribution_nm for row in budget.rows if row.kind == kind]


def codes(budget: Budget) -> dict[str, tuple[str, ...]]:
    return {note.code: note.subjects for note in budget.notes}


class TestLengths:
    def test_a_certificate_gives_its_expanded_uncertainty_over_its_factor(self) -> None:
        block = certified("a", coverage_factor=2.5)

        assert of_kind(stack_budget([block], CENTRE), "certified_length") == [60 / 2.5]

    def test_a_grade_gives_its_limit_over_root_3(self) -> None:
        """Grade 1, 10 mm: ±0.20 µm (ISO 3650)."""
        block = Block(id="a", nominal=mm("10"), grade="1")

        assert of_kind(stack_budget([block]), "length_within_limits") == [
            pytest.approx(200 / sqrt(3))
        ]

    def test_unequal_limits_shift_the_estimate_to_their_middle(self) -> None:
        """Federal grade 3, 1 in: +8/-4 µin, so +2 µin with ±6 µin, where planning takes 8."""
        budget = stack_budget([Block(id="a", nominal=inch("1"), grade="3", unit="in")])

        (row,) = budget.rows
        assert row.estimate == pytest.approx(2 * 25.4)
        assert row.limit == pytest.approx(6 * 25.4)
        assert budget.length - budget.nominal == 2 * 2540
        assert budget.corrected.worst_case == 8 * 2540
        assert codes(budget)["limits_unequal"] == ("a",)

    def test_a_block_without_any_statement_is_refused(self) -> None:
        with pytest.raises(InputError):
            stack_budget([Block(id="a", nominal=mm("10"))])


class TestCorrelation:
    @pytest.mark.parametrize(
        ("correlation", "expected"), [(1.0, 60.0), (0.0, hypot(30, 30)), (0.5, sqrt(2700))]
    )
    def test_lengths_of_one_certificate(self, correlation: float, expected: float) -> None:
        """GUM 5.2.2 with u = 30 nm twice: 900 + 900 + 2 r 900."""
        conditions = Conditions(off_centre=0.0, correlation=correlation)
        blocks = [certified("a"), certified("b")]

        budget = stack_budget(blocks, conditions, joint_allowance=NO_JOINTS)

        assert uncertainty(budget) == pytest.approx(expected)

    def test_lengths_of_two_certificates_are_independent(self) -> None:
        blocks = [certified("a"), certified("b", certificate="4712")]

        budget = stack_budget(blocks, CENTRE, joint_allowance=NO_JOINTS)

        assert uncertainty(budget) == pytest.approx(hypot(30, 30))

    def test_unnamed_certificates_count_as_one_and_the_budget_says_so(self) -> None:
        blocks = [certified("a", certificate=None), certified("b", certificate=None)]

        budget = stack_budget(blocks, CENTRE, joint_allowance=NO_JOINTS)

        assert uncertainty(budget) == pytest.approx(60)
        assert codes(budget)["certificate_not_named"] == ("a", "b")

    def test_one_unnamed_certificate_is_nothing_to_note(self) -> None:
        assert "certificate_not_named" not in codes(stack_budget([certified("a", certificate="")]))


class TestJoints:
    def test_each_joint_has_a_row(self) -> None:
        budget = stack_budget([certified(name) for name in "abc"], CENTRE)

        nm = DEFAULT_JOINT_ALLOWANCE / 100 / sqrt(3)
        assert of_kind(budget, "wringing") == [pytest.approx(nm)] * 2

    def test_a_stated_uncertainty_goes_before_the_allowance(self) -> None:
        conditions = Conditions(wringing=normal(0.0, 1_000.0))

        budget = stack_budget([certified("a"), certified("b")], conditions)

        assert of_kind(budget, "wringing") == [10.0]

    def test_a_film_that_is_known_lengthens_the_stack(self) -> None:
        conditions = Conditions(wringing=normal(700.0, 0.0))
        blocks = [certified(name) for name in "abc"]

        grown = stack_budget(blocks, conditions).length - stack_budget(blocks).length

        assert grown == 2 * 700


class TestAgeing:
    def test_drift_grows_with_the_years_and_the_length(self) -> None:
        """Grade 0, 100 mm: 0.045 µm a year (ISO 3650, from memory), two years, rectangular."""
        block = certified("a", "100", calibrated_on=date(2024, 3, 31))
        conditions = Conditions(used_on=date(2026, 3, 31), off_centre=0.0)

        budget = stack_budget([block], conditions)

        assert of_kind(budget, "drift") == [pytest.approx(90 / sqrt(3), rel=1e-3)]

    def test_grades_1_and_2_may_drift_twice_as_far(self) -> None:
        """10 mm: 0.055 µm a year against 0.0225 µm."""
        conditions = Conditions(used_on=date(2026, 3, 31), off_centre=0.0)
        block = Block(
            id="a",
            nominal=mm("10"),
            deviation=0,
            expanded_uncertainty=um("0.06"),
            grade="1",
            calibration=Calibration(calibrated_on=date(2025, 3, 31)),
        )

        drift = of_kind(stack_budget([block], conditions), "drift")

        assert drift == [pytest.approx(55 / sqrt(3), rel=1e-3)]

    def test_without_a_date_there_is_no_row_but_a_note(self) -> None:
        budget = stack_budget([certified("a", calibrated_on=date(2024, 3, 31))])

        assert of_kind(budget, "drift") == []
        assert codes(budget)["drift_not_counted"] == ("a",)

    def test_blocks_overdue_on_the_day_of_use_are_noted(self) -> None:
        block = certified("a", due_on=date(2026, 3, 31))

        on_the_day = stack_budget([block], Conditions(used_on=date(2026, 3, 31)))
        after = stack_budget([block], Conditions(used_on=date(2026, 4, 1)))

        assert "overdue" not in codes(on_the_day)
        assert codes(after)["overdue"] == ("a",)


class TestProbing:
    def test_measured_variation_goes_before_the_tolerance_of_the_grade(self) -> None:
        """Half of 0.08 µm measured; half of 0.10 µm for grade 0."""
        measured = stack_budget([certified("a", variation=um("0.08"))])
        by_grade = stack_budget([certified("a")])

        assert of_kind(measured, "variation_in_length") == [pytest.approx(40 / sqrt(3))]
        assert of_kind(by_grade, "variation_in_length") == [pytest.approx(50 / sqrt(3))]

    def test_limits_of_a_grade_hold_all_over_the_face(self) -> None:
        budget = stack_budget([Block(id="a", nominal=mm("10"), grade="1")])

        assert of_kind(budget, "variation_in_length") == []

    def test_unknown_variation_is_noted_unless_touched_at_the_centre(self) -> None:
        block = Block(id="a", nominal=mm("10"), deviation=0, expanded_uncertainty=100)

        assert codes(stack_budget([block]))["variation_not_counted"] == ("a",)
        assert "variation_not_counted" not in codes(stack_budget([block], CENTRE))


class TestHeat:
    def test_nothing_is_counted_where_no_temperature_is_given_and_the_budget_says_so(self) -> None:
        budget = stack_budget([certified("a")])

        assert of_kind(budget, "temperature") == []
        assert "temperature_not_stated" in codes(budget)

    def test_blocks_of_one_material_share_one_coefficient(self) -> None:
        """Twice 50 mm of steel at 25 °C are as uncertain as 100 mm, not by a root less."""
        conditions = Conditions(temperature=exactly(25.0))
        halves = [certified("a", "50"), certified("b", "50")]

        apart = of_kind(stack_budget(halves, conditions), "expansion")
        whole = of_kind(stack_budget([certified("a", "100")], conditions), "expansion")

        assert apart == whole

    def test_a_coefficient_of_the_certificate_goes_before_the_material(self) -> None:
        block = certified("a", "100", expansion=10.9, expansion_uncertainty=0.1)

        budget = stack_budget([block], Conditions(temperature=exactly(21.0)))

        assert of_kind(budget, "expansion") == [pytest.approx(10.0)]
        assert budget.length - budget.nominal - budget.deviation == um("1.09")

    def test_second_order_counts_where_first_order_vanishes(self) -> None:
        """100 mm of steel at (20 ± 1) °C against aluminium of about the same temperature.

        100 mm · u(a) · u(t), with u(a) 0.577e-6/K and 1.334e-6/K, u(t) 0.577 K, and 0.1 K between.
        """
        part = Part(material="aluminium", temperature_difference=normal(0.0, 0.1))
        conditions = Conditions(temperature=rectangular(20.0, 1.0), part=part)

        budget = stack_budget([certified("a", "100")], conditions)

        steel, aluminium = 1 / sqrt(3), 2.31 / sqrt(3)
        assert of_kind(budget, "expansion") == of_kind(budget, "part_expansion") == [0.0]
        assert sorted(abs(nm) for nm in of_kind(budget, "second_order")) == pytest.approx(
            [100 * aluminium * 0.1, 100 * steel / sqrt(3), 100 * aluminium / sqrt(3)]
        )

    def test_a_part_that_follows_leaves_the_shared_coefficient_to_the_gradient(self) -> None:
        """Stack and part grow alike by the steel's error, but for the 0.1 K between them."""
        part = Part(
            material="steel",
            expansion_difference=rectangular(0.0, 1.0),
            temperature_difference=normal(0.0, 0.1),
        )
        conditions = Conditions(temperature=rectangular(20.0, 1.0), part=part)

        budget = stack_budget([certified("a", "100")], conditions)

        u = 1 / sqrt(3)
        assert sorted(abs(nm) for nm in of_kind(budget, "second_order")) == pytest.approx(
            [0.0, 100 * u * 0.1, 100 * u * 0.1, 100 * u * u]
        )

    def test_assumptions_are_noted(self) -> None:
        block = Block(id="a", nominal=mm("10"), grade="1")
        granite = Conditions(temperature=exactly(21.0), part=Part(material="granite"))

        noted = codes(stack_budget([block], granite))

        assert noted["material_assumed"] == ("a",)
        assert noted["part_expansion_of_table"] == ("granite",)
        assert noted["from_memory"] == ("granite",)

    def test_a_part_that_follows_steel_shares_its_coefficient_with_no_steel_in_the_stack(
        self,
    ) -> None:
        """Carbide blocks, a part of blocks' steel 5 K up: the steel's ±1e-6/K is the part's."""
        block = Block(id="a", nominal=mm("100"), grade="1", material="tungsten-carbide")
        part = Part(material="steel", expansion_difference=exactly(0.0))

        budget = stack_budget([block], Conditions(temperature=exactly(25.0), part=part))

        steel = [row for row in budget.rows if (row.kind, row.subject) == ("expansion", "steel")]
        assert [row.contribution_nm for row in steel] == [pytest.approx(-500 / sqrt(3))]


class TestTotals:
    def test_worst_case_is_the_planners(self) -> None:
        """|off + Σ deviation| + Σ margin + joints · allowance, whatever the conditions."""
        blocks = [certified("a", "10"), certified("b", "20")]
        warm = Conditions(temperature=exactly(30.0))

        budget = stack_budget(blocks, warm, target=mm("30.001"), joint_allowance=um("0.02"))

        assert budget.uncorrected.worst_case == um("0.9") + um("0.12") + um("0.02")
        assert budget.corrected.worst_case == um("0.14")

    def test_an_offset_that_is_not_allowed_for_adds(self) -> None:
        budget = stack_budget([certified("a")], CENTRE)

        assert budget.offset == um("0.05")
        assert (
            budget.uncorrected.expanded_uncertainty
            == um("0.05") + budget.corrected.expanded_uncertainty
        )
        assert budget.corrected.all_inputs_at_limits == um("0.06")

    def test_one_block_and_two_sigma(self) -> None:
        budget = stack_budget([certified("a")], CENTRE)

        assert budget.combined.expanded_uncertainty_nm == pytest.approx(60, rel=1e-5)
        assert (
            budget.corrected.expanded_uncertainty == um("0.06") + 1
        )  # 0.9545 is a little over two sigma
        assert budget.combined.degrees_of_freedom == inf

    def test_few_degrees_of_freedom_raise_the_factor(self) -> None:
        """One block with 5 degrees of freedom: k95 = 2.57 (GUM table G.2)."""
        conditions = Conditions(off_centre=0.0, coverage_probability=0.95)

        combined = stack_budget([certified("a", degrees_of_freedom=5.0)], conditions).combined

        assert combined.degrees_of_freedom == pytest.approx(5)
        assert round(combined.coverage_factor, 2) == 2.57

    def test_no_block_no_length(self) -> None:
        """An empty stack is no error here: it has no length and no uncertainty."""
        budget = stack_budget([])

        assert (budget.length, budget.corrected.expanded_uncertainty, budget.rows) == (0, 0, ())

    @given(st.permutations(["2", "5", "10", "25"]))
    def test_order_does_not_matter(self, nominals: list[str]) -> None:
        blocks = [certified(n, n) for n in nominals]
        same = [certified(n, n) for n in sorted(nominals)]

        assert uncertainty(stack_budget(blocks)) == pytest.approx(uncertainty(stack_budget(same)))

    @given(st.integers(1, 5))
    def test_another_block_never_lessens_the_uncertainty(self, count: int) -> None:
        blocks = [certified(f"b{i}") for i in range(count + 1)]

        assert uncertainty(stack_budget(blocks)) > uncertainty(stack_budget(blocks[:-1]))


class TestConditions:
    @pytest.mark.parametrize(
        ("conditions", "pointer"),
        [
            (Conditions(off_centre=1.5), "/off_centre"),
            (Conditions(correlation=-0.1), "/correlation"),
            (Conditions(coverage_probability=1.0), "/coverage_probability"),
            (Conditions(temperature=exactly(float("nan"))), "/temperature/estimate"),
            (Conditions(temperature=normal(20.0, -1.0)), "/temperature/uncertainty"),
            (Conditions(wringing=normal(0.0, 1.0, freedom=0.5)), "/wringing/degrees_of_freedom"),
            (Conditions(part=Part()), "/part"),
            (Conditions(part=Part(material="unobtainium")), "/part/material"),
            (Conditions(part=Part(expansion_difference=exactly(0.0))), "/part"),
            (
                Conditions(extras=(Extra(name="d", value=Quantity(estimate=float("inf"))),)),
                "/extras/0/value/estimate",
            ),
        ],
    )
    def test_nonsense_is_refused_with_a_pointer(self, conditions: Conditions, pointer: str) -> None:
        with pytest.raises(InputError) as caught:
            stack_budget([certified("a")], conditions)

        assert pointer in [fault.pointer for fault in caught.value.faults]

    def test_an_own_and_a_following_coefficient_contradict(self) -> None:
        both = rectangular(11.0, 1.0)
        part = Part(material="steel", expansion=both, expansion_difference=both)

        with pytest.raises(InputError, match="contradicts"):
            stack_budget([certified("a")], Conditions(part=part))

    def test_the_standard_conditions_are_in_order(self) -> None:
        assert stack_budget([certified("a")], STANDARD).coverage_probability == 0.9545
