"""Tapers, rolls, dovetails and angle blocks as targets; figures are held by the reference tests."""

from decimal import Decimal

import pytest
from msgspec.structs import replace

from solver.targets.conftest import MakeStack
from solver.targets.faulty import pointers
from wrung import solve
from wrung.angles import SECOND, angle
from wrung.lengths import mm, um
from wrung.targets import (
    AngleBlocksResult,
    AngleBlocksTarget,
    DovetailTarget,
    ExternalTaperTarget,
    InternalTaperTarget,
    TwoRollsTarget,
)
from wrung.targets.taper import Taper
from wrung.texts import word

PLUG = ExternalTaperTarget(
    ref="p",
    included_angle=angle("8"),
    small_end=mm("20"),
    roll_diameter=mm("10"),
    stack_length=mm("30"),
)


def by_taper(taper: Taper) -> ExternalTaperTarget:
    """The plug with its taper given otherwise than by an angle."""
    return replace(PLUG, included_angle=None, taper=taper)


BORE = InternalTaperTarget(
    ref="b",
    included_angle=angle("10"),
    large_end=mm("30"),
    large_ball=mm("26"),
    small_ball=mm("18"),
)
ROLLS = TwoRollsTarget(ref="r", angle=angle("20"), large_roll=mm("25"), small_roll=mm("10"))
DOVETAIL = DovetailTarget(
    ref="d", form="female", angle=angle("60"), width=mm("50"), roll_diameter=mm("8")
)
BLOCKS = AngleBlocksTarget(ref="a", angle=angle("33°11'36\""), composition="angle-16")


class TestExternalTaper:
    def test_two_equal_stacks(self) -> None:
        found = {requirement.role: requirement.length for requirement in PLUG.requirements()}

        assert found == {"left": mm("30"), "right": mm("30")}

    def test_the_measured_angle_counts_with_the_stacks_as_built(
        self, make_stack: MakeStack
    ) -> None:
        high = PLUG.expected_low() + PLUG.rise(mm("30"))
        measured = replace(PLUG, measured_low=PLUG.expected_low(), measured_high=high)

        def stacks(deviation: int) -> int | None:
            made = [make_stack(f"p/{s}", mm("30"), deviation=deviation) for s in ("left", "right")]
            return measured.results(made).angle_error

        error = stacks(0)
        assert error is not None
        assert abs(error) < SECOND / 100
        # Stacks 3 µm longer: 1e-4 less of 8 degrees, near enough 2.87 seconds.
        assert stacks(um("3")) == pytest.approx(-2.87 * SECOND, rel=0.01)

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(PLUG, included_angle=0), "/included_angle"),
            (replace(PLUG, included_angle=None), "/included_angle"),
            (replace(PLUG, size_uncertainty=-1), "/size_uncertainty"),
            (replace(PLUG, taper=Taper(designation="Morse 3")), "/included_angle"),
            (by_taper(Taper(designation="Morse 33")), "/taper/designation"),
            (by_taper(Taper(ratio=Decimal(20), rate=Decimal("0.05"))), "/taper"),
            (by_taper(Taper()), "/taper"),
            (by_taper(Taper(ratio=Decimal(0))), "/taper/ratio"),
            (replace(PLUG, included_angle=angle("120")), "/included_angle"),
            (replace(PLUG, roll_diameter=0), "/roll_diameter"),
            (replace(PLUG, small_end=-1), "/small_end"),
            (replace(PLUG, stack_length=0), "/stack_length"),
            (replace(PLUG, measured_low=mm("40")), "/measured_high"),
            (replace(PLUG, measured_high=mm("40")), "/measured_low"),
            (replace(PLUG, measured_low=mm("40"), measured_high=mm("39")), "/measured_high"),
        ],
    )
    def test_faults(self, changed: ExternalTaperTarget, at: str) -> None:
        assert pointers(changed) == {at}

    def test_a_named_taper_is_as_its_angle_and_says_how_sure_it_is(self) -> None:
        taper = Taper(designation="Morse 3")
        named = by_taper(taper).results(())
        plain = replace(PLUG, included_angle=taper.included_angle()).results(())

        assert (named.expected_low, named.expected_high) == (
            plain.expected_low,
            plain.expected_high,
        )
        assert "Morse 3" in word(named.remarks[-1])
        assert [each.key for each in plain.remarks] == ["contact.left_out"]
        assert plain.taper.designation is None


class TestInternalTaper:
    def test_a_stack_for_each_ball_above_or_below_the_face(self) -> None:
        large, small = BORE.requirements()
        result = BORE.results(())

        assert (large.role, small.role) == ("large_ball", "small_ball")
        assert abs(large.length - abs(result.large_ball_depth)) <= um("0.5")
        assert abs(small.length - abs(result.small_ball_depth)) <= um("0.5")

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(BORE, large_ball=mm("40")), "/large_ball"),
            (replace(BORE, small_ball=mm("26")), "/large_ball"),
            (replace(BORE, depth_uncertainty=-1), "/depth_uncertainty"),
            (replace(BORE, ball_uncertainty=-1), "/ball_uncertainty"),
            (replace(BORE, bore_depth=mm("40")), "/small_ball"),
            (replace(BORE, included_angle=angle("0°0'59\"")), "/included_angle"),
            (
                replace(BORE, measured_large_ball_depth=mm("5"), measured_small_ball_depth=mm("6")),
                "/measured_small_ball_depth",
            ),
            (replace(BORE, measured_large_ball_depth=mm("5")), "/measured_small_ball_depth"),
            (replace(BORE, measured_small_ball_depth=mm("5")), "/measured_large_ball_depth"),
        ],
    )
    def test_balls_that_cannot_touch_and_other_faults(
        self, changed: InternalTaperTarget, at: str
    ) -> None:
        assert pointers(changed) == {at}


class TestTwoRolls:
    def test_the_angle_of_the_stack_as_built(self, make_stack: MakeStack) -> None:
        (wanted,) = ROLLS.requirements()
        found = ROLLS.results([make_stack("r", wanted.length, margin=um("1"))])

        assert found.error is not None
        assert abs(found.error) <= 0.5 * float(found.sensitivity) * SECOND
        assert found.uncertainty == pytest.approx(float(found.sensitivity) * SECOND, rel=1e-3)

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(ROLLS, angle=angle("60")), "/angle"),
            (replace(ROLLS, angle=0), "/angle"),
            (replace(ROLLS, angle=angle("180")), "/angle"),
            (replace(ROLLS, large_roll=mm("10")), "/large_roll"),
            (replace(ROLLS, small_roll=0), "/small_roll"),
            (replace(ROLLS, roll_uncertainty=-1), "/roll_uncertainty"),
        ],
    )
    def test_rolls_that_would_overlap_and_other_faults(
        self, changed: TwoRollsTarget, at: str
    ) -> None:
        assert pointers(changed) == {at}


class TestDovetail:
    def test_the_width_that_the_stack_as_built_stands_for(self, make_stack: MakeStack) -> None:
        (wanted,) = DOVETAIL.requirements()
        found = DOVETAIL.results([make_stack("d", wanted.length, deviation=um("4"))])

        assert found.width is not None
        assert found.error is not None
        assert found.width - mm("50") == found.error
        assert abs(found.error - um("4")) <= um("0.5")

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(DOVETAIL, angle=angle("90")), "/angle"),
            (replace(DOVETAIL, width=0), "/width"),
            (replace(DOVETAIL, angle_uncertainty=-1), "/angle_uncertainty"),
            (replace(DOVETAIL, roll_diameter=mm("30")), "/roll_diameter"),
            (replace(DOVETAIL, depth=mm("5")), "/roll_diameter"),
        ],
    )
    def test_rolls_that_cannot_touch_and_other_faults(
        self, changed: DovetailTarget, at: str
    ) -> None:
        assert pointers(changed) == {at}


def planned(target: AngleBlocksTarget) -> AngleBlocksResult:
    """What the plan for this target alone comes to."""
    (case,) = solve((), [target], time_limit_ms=60_000).cases
    return target.results(case.plan.stacks, case.plan.unmet)


class TestAngleBlocks:
    def test_errors_by_limit_grade_and_set(self) -> None:
        found = planned(BLOCKS)
        count = len(found.added_blocks) + len(found.subtracted_blocks)

        assert (found.angle_reached, found.error) == (BLOCKS.angle, 0)
        assert found.worst_case_error == count * SECOND
        finer = planned(replace(BLOCKS, grade="laboratory"))
        assert finer.worst_case_error == count * SECOND // 4
        own = planned(replace(BLOCKS, grade="laboratory", limit_deviation=SECOND // 10))
        assert own.worst_case_error == count * SECOND // 10

    def test_a_missing_block_is_worked_around(self) -> None:
        whole = planned(replace(BLOCKS, angle=angle("30")))
        without = planned(replace(BLOCKS, angle=angle("30"), missing=(angle("30"),)))

        assert len(whole.added_blocks) == 1
        assert angle("30") not in without.added_blocks
        assert without.angle_reached == angle("30")

    def test_what_cannot_be_built_has_neighbours(self) -> None:
        between = planned(replace(BLOCKS, angle=angle("33°11'36.5\"")))

        assert between.angle_reached is None
        assert between.nearest_below == angle("33°11'36\"")
        assert between.nearest_above == angle("33°11'37\"")
        assert [said.key for said in between.remarks] == ["angle.none"]
        assert [said.key for said in planned(BLOCKS).remarks] == ["angle.from_memory"]

    def test_an_error_that_is_not_small_is_remarked(self) -> None:
        """A remark gives what is allowed over the worst case, two blocks at a second each."""
        found = planned(replace(BLOCKS, angle=angle("31°"), max_angle_error=5 * SECOND))

        assert found.worst_case_error == 2 * SECOND
        assert "a ratio of only 2.5." in word(found.remarks[0])

    def test_limits_of_ones_own_are_nobodys_memory(self) -> None:
        assert planned(replace(BLOCKS, limit_deviation=SECOND)).remarks == ()

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(BLOCKS, angle=0), "/angle"),
            (replace(BLOCKS, angle=angle("180")), "/angle"),
            (replace(BLOCKS, angle=angle("100")), "/angle"),
            (replace(BLOCKS, angle=angle("89"), missing=(angle("15"),)), "/angle"),
            (replace(BLOCKS, composition="angle-99"), "/composition"),
            (replace(BLOCKS, grade="sacred"), "/grade"),
            (replace(BLOCKS, missing=(angle("30"), angle("30"))), "/missing/1"),
            (replace(BLOCKS, max_angle_error=angle("2")), "/max_angle_error"),
            (replace(BLOCKS, limit_deviation=-1), "/limit_deviation"),
        ],
    )
    def test_faults(self, changed: AngleBlocksTarget, at: str) -> None:
        assert at in pointers(changed)
