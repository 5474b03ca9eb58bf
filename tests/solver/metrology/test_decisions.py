"""Is a stack good enough: ratios, rules of thumb and guard bands on a budget that is known."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from wrung.blocks import Block
from wrung.calibrations import Calibration
from wrung.errors import InputError
from wrung.lengths import mm, um
from wrung.metrology.budget import Budget, stack_budget
from wrung.metrology.conditions import Conditions
from wrung.metrology.decisions import decide, verdict
from wrung.metrology.purpose import Guard, Purpose, Zone
from wrung.texts import word

# One block whose certificate says ±0.5 µm with k = 2, and which is 0.25 µm too long.
BLOCK = Block(id="a", nominal=mm("25"), deviation=um("0.25"), expanded_uncertainty=um("0.5"))
BUDGET = stack_budget([BLOCK], Conditions(off_centre=0.0))
U = BUDGET.corrected.expanded_uncertainty


def purpose(  # noqa: PLR0913 - what there is to say of a purpose
    width: int,
    *,
    corrected: bool = True,
    required: str | None = None,
    guard: Guard = "expanded_uncertainty",
    multiple: float | None = None,
    measured: int | None = None,
) -> Purpose:
    lower = mm("25") - width // 2
    return Purpose(
        limits=Zone(lower=lower, upper=lower + width),
        corrected=corrected,
        required_ratio=None if required is None else Fraction(required),
        guard=guard,
        guard_multiple=multiple,
        measured=measured,
    )


class TestRatio:
    @pytest.mark.parametrize(
        ("times", "expected"),
        [(20, "ten_to_one"), (10, "ten_to_one"), (9, "four_to_one"), (4, "four_to_one")],
    )
    def test_rules_of_thumb(self, times: int, expected: str) -> None:
        assert decide(BUDGET, purpose(2 * U * times)).verdict == expected

    def test_just_under_a_rule_does_not_meet_it(self) -> None:
        decision = decide(BUDGET, purpose(2 * U * 4 - 1))

        assert decision.verdict == "below_four_to_one"
        assert not decision.ratio_met
        assert decision.warning is not None
        assert decision.warning.key == "ratio.below_four"

    def test_an_offset_that_is_not_allowed_for_worsens_the_ratio(self) -> None:
        """0.25 µm + 0.5 µm against a width of 7.5 µm: 5 to 1 instead of 7.5."""
        corrected = decide(BUDGET, purpose(um("7.5")))
        uncorrected = decide(BUDGET, purpose(um("7.5"), corrected=False))

        assert corrected.test_uncertainty_ratio is not None
        assert uncorrected.test_uncertainty_ratio is not None
        assert float(corrected.test_uncertainty_ratio) == pytest.approx(7.5, rel=1e-4)
        assert float(uncorrected.test_uncertainty_ratio) == pytest.approx(5.0, rel=1e-4)

    def test_a_required_ratio_goes_before_the_rules(self) -> None:
        strict = decide(BUDGET, purpose(2 * U * 12, required="15"))
        lenient = decide(BUDGET, purpose(2 * U * 3, required="3"))

        assert not strict.ratio_met
        assert strict.warning is not None
        assert "15 required" in word(strict.warning)
        assert lenient.ratio_met

    def test_nothing_to_warn_of_above_ten(self) -> None:
        assert decide(BUDGET, purpose(2 * U * 11)).warning is None

    def test_a_stack_without_uncertainty_meets_every_ratio(self) -> None:
        perfect = stack_budget([Block(id="a", nominal=mm("25"), limit_deviation=0)])

        decision = decide(perfect, purpose(um("1"), required="100"))

        assert (decision.test_uncertainty_ratio, decision.verdict) == (None, "ten_to_one")
        assert decision.ratio_met


class TestGuardBands:
    def test_the_expanded_uncertainty_is_taken_off_each_limit(self) -> None:
        """ISO 14253-1:1998: acceptance within, rejection beyond, doubt in between."""
        decision = decide(BUDGET, purpose(um("10")))

        assert decision.acceptance_zone == Zone(lower=mm("24.995") + U, upper=mm("25.005") - U)
        assert decision.reject_below == mm("24.995") - U
        assert decision.reject_above == mm("25.005") + U

    def test_one_sided_95_takes_1_65_standard_uncertainties(self) -> None:
        """ISO 14253-1:2017 by default, from memory: 1.645 times 0.25 µm."""
        decision = decide(BUDGET, purpose(um("10"), guard="one_sided_95"))

        assert decision.guard_band / um("1") == pytest.approx(0.41121, abs=1e-4)

    def test_one_sided_95_is_by_students_t(self) -> None:
        """Five degrees of freedom: t is 2.015 on one side (tables of Student's t, such as GUM G.2).

        GUM table G.2 has the two-sided factor of 90 %, which leaves 5 % on either side.
        """
        calibration = Calibration(degrees_of_freedom=5.0)
        budget = stack_budget([replace(BLOCK, calibration=calibration)], Conditions(off_centre=0.0))

        decision = decide(budget, purpose(um("10"), guard="one_sided_95"))

        assert decision.guard_band / um("1") == pytest.approx(2.015 * 0.25, abs=1e-3)

    def test_guard_bands_may_leave_nothing(self) -> None:
        assert decide(BUDGET, purpose(um("0.9"))).acceptance_zone is None

    @given(st.integers(1, um("20")), st.booleans())
    def test_zones_are_nested(self, width: int, corrected: bool) -> None:  # noqa: FBT001
        wanted = purpose(width, corrected=corrected)

        decision = decide(BUDGET, wanted)

        assert decision.reject_below <= wanted.limits.lower
        assert decision.reject_above >= wanted.limits.upper
        if decision.acceptance_zone is not None:
            assert wanted.limits.lower <= decision.acceptance_zone.lower
            assert (
                decision.acceptance_zone.lower
                <= decision.acceptance_zone.upper
                <= wanted.limits.upper
            )


class TestRules:
    def test_simple_acceptance_says_that_it_risks_half(self) -> None:
        decision = decide(BUDGET, purpose(um("10"), guard="none"))

        assert decision.acceptance_zone == Zone(lower=mm("24.995"), upper=mm("25.005"))
        assert decision.risks.false_accept_at_limit == pytest.approx(0.5)
        assert "up to 50 %" in word(decision.risk_remarks[0])

    def test_a_multiple_below_zero_accepts_beyond_the_limits(self) -> None:
        """Rejected is then what is outside with 97.7 % (ILAC-G8, w = -U)."""
        decision = decide(BUDGET, purpose(um("10"), guard="multiple", multiple=-1.0))

        assert decision.acceptance_zone == Zone(lower=mm("24.995") - U, upper=mm("25.005") + U)
        assert (decision.reject_below, decision.reject_above) == (
            mm("24.995") - U,
            mm("25.005") + U,
        )
        assert decision.risks.false_reject_at_limit == pytest.approx(0.0228, abs=1e-3)

    def test_false_acceptance_is_kept_to_two_percent(self) -> None:
        """At 1.5 to 1 the worst share of good parts needs a band of 0.35 U."""
        decision = decide(BUDGET, purpose(3 * U, guard="false_accept_2"))

        assert decision.guard_band / U == pytest.approx(0.347, abs=2e-3)
        assert decision.risks.false_accept <= 0.02

    @given(st.floats(0.05, 6), st.none() | st.floats(0.3, 0.95), st.sampled_from(["0", "1.7"]))
    def test_it_is_so_for_tolerances_below_the_uncertainty(
        self, ratio: float, share: float | None, comparing: str
    ) -> None:
        """There a narrower tolerance needs the narrower band."""
        asked = replace(
            purpose(2 * round(ratio * U / 2), guard="false_accept_2"),
            in_tolerance=share,
            comparison_uncertainty=um(comparing),
        )

        assert decide(BUDGET, asked).risks.false_accept <= 0.02 + 1e-6

    @pytest.mark.parametrize(
        ("off", "statement"),
        [("4.4", "pass"), ("4.9", "conditional_pass"), ("5.1", "conditional_fail"), ("6", "fail")],
    )
    def test_what_is_said_of_a_size(self, off: str, statement: str) -> None:
        found = decide(BUDGET, purpose(um("10"), measured=mm("25") + um(off))).conformity

        assert found is not None
        assert found.statement == statement

    def test_an_offset_that_is_not_allowed_for_moves_the_probability(self) -> None:
        """The stack is 0.25 µm too long, so is the part: it is just on its limit."""
        at = mm("25.005") - BUDGET.offset
        found = decide(BUDGET, purpose(um("10"), corrected=False, measured=at)).conformity

        assert found is not None
        assert found.probability == pytest.approx(0.5)

    def test_comparing_counts_by_squares(self) -> None:
        """0.5 µm and 1.2 µm make 1.3 µm."""
        alone = purpose(um("10"), measured=mm("25.005"))
        compared = decide(BUDGET, replace(alone, comparison_uncertainty=um("1.2")))

        assert compared.uncertainty / um("1") == pytest.approx(1.3, abs=1e-4)
        assert compared.guard_band == compared.uncertainty
        assert float(compared.test_uncertainty_ratio or 0) == pytest.approx(10 / 2.6, abs=1e-3)
        assert compared.risks.false_accept > decide(BUDGET, alone).risks.false_accept

    @given(st.floats(-3, 3), st.integers(-um("8"), um("8")))
    def test_a_wider_band_says_no_more_of_a_size(self, multiple: float, off: int) -> None:
        order = ["fail", "conditional_fail", "conditional_pass", "pass"]
        size, width = mm("25") + off, um("10")

        def said(times: float) -> int:
            wanted = purpose(width, guard="multiple", multiple=times, measured=size)
            found = decide(BUDGET, wanted).conformity
            assert found is not None
            return order.index(found.statement)

        wide, narrow = said(multiple + 0.5), said(multiple)
        assert (wide <= narrow) or narrow == 0


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [(None, "ten_to_one"), ("10", "ten_to_one"), ("4", "four_to_one"), ("1", "below_four_to_one")],
)
def test_verdict(ratio: str | None, expected: str) -> None:
    assert verdict(None if ratio is None else Fraction(ratio)) == expected


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [
        (purpose(0), "/limits"),
        (purpose(um("1"), required="0"), "/required_ratio"),
        (purpose(um("1"), guard="multiple"), "/guard_multiple"),
        (purpose(um("1"), multiple=1.0), "/guard_multiple"),
        (purpose(um("1"), guard="multiple", multiple=float("nan")), "/guard_multiple"),
    ],
)
def test_nonsense_is_refused(wrong: Purpose, pointer: str) -> None:
    budget: Budget = BUDGET

    with pytest.raises(InputError) as caught:
        decide(budget, wrong)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]
