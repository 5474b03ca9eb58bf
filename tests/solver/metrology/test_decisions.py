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
from wrung.metrology.decisions import Guard, Purpose, Zone, decide, verdict
from wrung.texts import word

# One block whose certificate says ±0.5 µm with k = 2, and which is 0.25 µm too long.
BLOCK = Block(id="a", nominal=mm("25"), deviation=um("0.25"), expanded_uncertainty=um("0.5"))
BUDGET = stack_budget([BLOCK], Conditions(off_centre=0.0))
U = BUDGET.corrected.expanded_uncertainty


def purpose(
    width: int,
    *,
    corrected: bool = True,
    required: str | None = None,
    guard: Guard = "expanded_uncertainty",
) -> Purpose:
    lower = mm("25") - width // 2
    return Purpose(
        limits=Zone(lower=lower, upper=lower + width),
        corrected=corrected,
        required_ratio=None if required is None else Fraction(required),
        guard=guard,
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


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [(None, "ten_to_one"), ("10", "ten_to_one"), ("4", "four_to_one"), ("1", "below_four_to_one")],
)
def test_verdict(ratio: str | None, expected: str) -> None:
    assert verdict(None if ratio is None else Fraction(ratio)) == expected


@pytest.mark.parametrize(
    ("wrong", "pointer"),
    [(purpose(0), "/limits"), (purpose(um("1"), required="0"), "/required_ratio")],
)
def test_nonsense_is_refused(wrong: Purpose, pointer: str) -> None:
    budget: Budget = BUDGET

    with pytest.raises(InputError) as caught:
        decide(budget, wrong)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]
