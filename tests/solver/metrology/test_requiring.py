"""Required ratios as a rule of plans, held to an exhaustive search."""

from fractions import Fraction
from math import inf
from typing import Final

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle
from solver.metrology.test_measuring import BY_SQUARES, BY_VARIANCE, certified, measured
from wrung import Answer, Block, InputError, LengthTarget, mm, solve, um, verify
from wrung.deadline import Deadline
from wrung.metrology import Conditions, ErrorMeasure, RequiredRatio, stack_budget
from wrung.metrology.measuring import most_errors
from wrung.metrology.quantities import normal
from wrung.metrology.student import TWO_SIGMA, coverage_factor
from wrung.order import Order
from wrung.planning.execution import answered
from wrung.testing import Request, requests
from wrung.tuning import Tuning

AMPLE_MS: Final = 60_000
MEASURES: Final = (ErrorMeasure(), ErrorMeasure(corrected=True), BY_VARIANCE, BY_SQUARES)


def served_at_most(request: Request, measure: ErrorMeasure, most: int) -> oracle.Best:
    """The best plan of stacks whose error is no larger than ``most``, by trying everything."""
    usable = [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]
    wanted = [each for target in request.targets for each in target.requirements()]
    return oracle.best(
        usable,
        wanted,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        measure=None if measure.usual else measured(request, measure),
        most_errors=[most] * len(wanted),
    )


@given(requests(max_blocks=6), st.sampled_from(MEASURES), st.integers(0, 40))
def test_only_stacks_that_keep_the_ratio_are_planned(
    request: Request, measure: ErrorMeasure, tenths: int
) -> None:
    """With a ratio of 5 to a tolerance of 10 errors; k is 2, nearly, where variances count."""
    half = um("0.1") * tenths + 1
    ratios = tuple(
        RequiredRatio(target=target.ref, width=10 * half, ratio=Fraction(5))
        for target in request.targets
    )
    most = (
        half
        if measure.kind == "worst_case"
        else int((half / 10 / coverage_factor(TWO_SIGMA, inf)) ** 2)
    )

    answer = solve(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        error_measure=measure,
        required_ratios=ratios,
        time_limit_ms=AMPLE_MS,
    )
    wanted = served_at_most(request, measure, most)

    assert len(answer.stacks) == wanted.served
    assert answer.total_blocks == wanted.total_blocks
    largest = (
        answer.compared_errors.largest
        if answer.compared_errors
        else answer.largest_worst_case_error
    )
    total = (
        answer.compared_errors.total if answer.compared_errors else answer.total_worst_case_error
    )
    assert (largest, total) == (wanted.largest_error, wanted.total_error)
    assert answer.outcome == ("optimal" if not answer.unmet else answer.outcome)
    assert answer.objective_proven
    assert not verify(
        request.blocks,
        request.targets,
        answer,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        error_measure=measure,
        required_ratios=ratios,
    )


@given(requests(max_blocks=6), st.sampled_from(MEASURES), st.integers(1, 30))
def test_a_conflict_is_real_and_smallest_and_blocks_as_good_as_asked_for_help(
    request: Request, measure: ErrorMeasure, hundredths: int
) -> None:
    """The limits are the same for all; the conflict is held to the exhaustive search."""
    ratios = tuple(
        RequiredRatio(target=target.ref, width=2 * um("0.01") * hundredths, ratio=Fraction(1))
        for target in request.targets
    )

    def run(blocks: tuple[Block, ...], only: tuple[str, ...] | None) -> Answer:
        order = Order(
            blocks=blocks,
            targets=request.targets,
            joint_allowance=request.joint_allowance,
            exclude=request.exclude,
            only=only,
            error_measure=measure,
            required_ratios=ratios,
        )
        ample = Deadline(AMPLE_MS, tuning=Tuning(most_explaining_ms=AMPLE_MS))
        return answered(order, ample, ample)

    answer = run(request.blocks, request.only)
    assume(answer.unmet)
    short = answer.shortage
    assert short is not None
    conflict = [name.target for name in short.conflict]
    together = replace(request, targets=tuple(t for t in request.targets if t.ref in conflict))
    most = most_errors(ratios[:1], request.blocks, measure)[ratios[0].name]
    assert served_at_most(together, measure, most).served < len(short.conflict)
    for ref in conflict:
        rest = replace(together, targets=tuple(t for t in together.targets if t.ref != ref))
        assert served_at_most(rest, measure, most).served == len(short.conflict) - 1

    new = tuple(
        Block(
            id=f"new{place}",
            nominal=block.nominal,
            unit=block.unit,
            role=block.role,
            deviation=0 if measure.corrected else (block.max_error or 0) // 3,
            expanded_uncertainty=(block.max_error or 0) * (1 if measure.corrected else 2) // 3,
        )
        for place, block in enumerate(short.blocks_to_add)
    )
    only = None if request.only is None else (*request.only, *(block.id for block in new))
    lacking = {each.name for each in run(request.blocks + new, only).unmet}
    assert not short.blocks_to_add or lacking <= set(short.not_helped)


class TestAnswers:
    """30 mm of one poor block, or of two good ones: 0.3 µm, or 0.1 µm and a joint."""

    SHELF = (
        certified("poor", "30", "0", "0.3"),
        certified("a", "10", "0", "0.05"),
        certified("b", "20", "0", "0.05"),
    )
    TARGETS = (LengthTarget(ref="t", length=mm("30")),)

    def answer(self, ratio: str, *targets: LengthTarget) -> Answer:
        """For a tolerance of 2 µm, without anything for joints."""
        return solve(
            self.SHELF,
            targets or self.TARGETS,
            joint_allowance=0,
            required_ratios=[self.required(ratio)],
        )

    def required(self, ratio: str) -> RequiredRatio:
        return RequiredRatio(target="t", width=um("2"), ratio=Fraction(ratio))

    @pytest.mark.parametrize(("ratio", "blocks"), [("3", 1), ("4", 2), ("10", 2)])
    def test_more_blocks_are_taken_where_fewer_are_not_good_enough(
        self, ratio: str, blocks: int
    ) -> None:
        answer = self.answer(ratio)

        assert (answer.outcome, answer.total_blocks) == ("optimal", blocks)

    def test_what_no_stack_keeps_cannot_be_built(self) -> None:
        answer = self.answer("10.1")

        assert answer.outcome == "infeasible"
        assert [unmet.reason for unmet in answer.unmet] == ["cannot_be_built"]
        assert answer.shortage is not None
        assert (
            tuple(map(str, answer.shortage.conflict)),
            answer.shortage.smallest_conflict_proven,
        ) == (
            ("t",),
            True,
        )

    def test_a_block_to_add_comes_with_the_most_that_it_may_be_off(self) -> None:
        """2 µm over 2 times 10.5 are 95.238 nm; beside the 20 mm block 45.238 nm are left."""
        answer = self.answer("10.5")

        assert answer.shortage is not None
        (added,) = answer.shortage.blocks_to_add
        spare = {mm("10"): 4523, mm("20"): 4523, mm("30"): 9523}
        assert added.max_error == spare[added.nominal]

    def test_good_blocks_may_be_in_use_elsewhere(self) -> None:
        other = LengthTarget(ref="other", length=mm("10"))
        answer = self.answer("4", other, *self.TARGETS)

        assert answer.outcome == "partial"
        assert [(unmet.target, unmet.reason) for unmet in answer.unmet] == [("t", "blocks_in_use")]
        assert answer.shortage is not None
        assert (
            tuple(map(str, answer.shortage.conflict)),
            answer.shortage.smallest_conflict_proven,
        ) == (
            ("other", "t"),
            True,
        )
        assert len(answer.shortage.blocks_to_add) == 1

    def test_a_stack_that_does_not_keep_it_is_found_by_the_checker(self) -> None:
        answer = solve(self.SHELF, self.TARGETS, joint_allowance=0)

        def rules(ratio: str) -> list[str]:
            found = verify(
                self.SHELF,
                self.TARGETS,
                answer,
                joint_allowance=0,
                required_ratios=[self.required(ratio)],
            )
            return [breach.rule for breach in found]

        assert rules("3") == []
        assert rules("4") == ["required ratios"]

    def test_by_variance_the_ratio_is_that_of_the_budget(self) -> None:
        """Independent, at 20 °C, k = 2: the budget of the stack found keeps it, too."""
        under = Conditions(correlation=0.0, wringing=normal(0.0, 0.0))
        measure = ErrorMeasure(kind="expanded_uncertainty", corrected=True, conditions=under)

        answer = solve(
            self.SHELF, self.TARGETS, error_measure=measure, required_ratios=[self.required("14")]
        )

        shelf = {block.id: block for block in self.SHELF}
        blocks: list[Block] = [shelf[placed.id] for placed in answer.stacks[0].blocks]
        assert len(blocks) == 2
        assert um("2") / (2 * stack_budget(blocks, under).corrected.expanded_uncertainty) >= 14


@pytest.mark.parametrize(
    ("ratios", "pointer"),
    [
        ([("u", 1, 4)], "/required_ratios/0/target"),
        ([("t", 1, 4), ("t", 1, 4)], "/required_ratios/1/target"),
        ([("t", 0, 4)], "/required_ratios/0/width"),
        ([("t", 1, 0)], "/required_ratios/0/ratio"),
    ],
)
def test_what_makes_no_sense_is_pointed_at(
    ratios: list[tuple[str, int, int]], pointer: str
) -> None:
    with pytest.raises(InputError) as caught:
        solve(
            TestAnswers.SHELF,
            TestAnswers.TARGETS,
            required_ratios=[
                RequiredRatio(target=ref, width=width, ratio=Fraction(ratio))
                for ref, width, ratio in ratios
            ],
        )

    assert [fault.pointer for fault in caught.value.faults] == [pointer]
