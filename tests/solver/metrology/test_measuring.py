"""Plans by other measures than the worst-case error, held to an exhaustive search.

The search measures each stack by other means than the planner: by its budget, by the variance of
the stack as a whole, and by the two sums that unequal limits come to.
"""

from collections.abc import Sequence
from datetime import date
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.oracle import Best, Measure, best
from wrung import (
    Answer,
    Block,
    InputError,
    LengthTarget,
    Objective,
    Requirement,
    Tolerance,
    inch,
    mm,
    solve,
    uin,
    um,
    verify,
)
from wrung.calibrations import Calibration
from wrung.deadline import Deadline
from wrung.lengths import to_text
from wrung.metrology import (
    Conditions,
    ErrorMeasure,
    block_cost,
    joint_variance,
    stack_budget,
    stack_variance,
)
from wrung.metrology.quantities import normal
from wrung.order import Order
from wrung.planning import direct, engine
from wrung.planning.finding import totals
from wrung.planning.problem import build_problem
from wrung.testing import Request, requests

AMPLE_MS: Final = 60_000
USE: Final = Conditions(used_on=date(2026, 11, 25), wringing=normal(0.0, 500.0))
BY_VARIANCE: Final = ErrorMeasure(kind="expanded_uncertainty", corrected=True, conditions=USE)
BY_SQUARES: Final = replace(BY_VARIANCE, corrected=False)
MEASURES: Final = (
    BY_VARIANCE,
    BY_SQUARES,
    ErrorMeasure(corrected=True),
    ErrorMeasure(unequal_limits=True),
    ErrorMeasure(corrected=True, unequal_limits=True),
)


def measured(request: Request, measure: ErrorMeasure) -> Measure:
    """The figure that the exhaustive search compares, worked out from the stack as a whole."""

    def by_variance(stack: Sequence[Block], _wanted: Requirement) -> int:
        under = replace(USE, correlation=0.0)
        costs = [block_cost(block, under) for block in stack]
        return stack_variance(costs, joint=joint_variance(under, request.joint_allowance))

    def by_squares(stack: Sequence[Block], wanted: Requirement) -> int:
        off = sum(b.nominal + block_cost(b).offset for b in stack) - wanted.length
        return by_variance(stack, wanted) + int((off / 10) ** 2)

    def by_budget(stack: Sequence[Block], _wanted: Requirement) -> int:
        return stack_budget(stack, joint_allowance=request.joint_allowance).corrected.worst_case

    def by_both_sums(stack: Sequence[Block], wanted: Requirement) -> int:
        costs = [block_cost(block) for block in stack]
        plus, minus = sum(cost.plus for cost in costs), sum(cost.minus for cost in costs)
        off = sum(block.nominal + (block.deviation or 0) for block in stack) - wanted.length
        films = (len(stack) - 1) * request.joint_allowance
        if measure.corrected:
            return (plus + minus) // 2 + films
        return max(off + plus, minus - off) + films

    if measure.kind == "expanded_uncertainty":
        return by_variance if measure.corrected else by_squares
    return by_both_sums if measure.unequal_limits else by_budget


def of_older_grades(request: Request) -> Request:
    """The same with inch grades of unequal limits, for half of the blocks."""
    older = {"AS-1": "3", "0": "2"}
    blocks = tuple(
        replace(b, grade=older.get(b.grade, b.grade)) if b.grade and b.unit == "in" else b
        for b in request.blocks
    )
    return replace(request, blocks=blocks)


def exhaustive(request: Request, measure: ErrorMeasure) -> Best:
    usable = [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]
    wanted = [each for target in request.targets for each in target.requirements()]
    return best(usable, wanted, objective=request.objective, measure=measured(request, measure))


def answered(request: Request, measure: ErrorMeasure) -> Answer:
    return solve(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        error_measure=measure,
        time_limit_ms=AMPLE_MS,
    )


def breaches(request: Request, answer: Answer, measure: ErrorMeasure) -> list[str]:
    found = verify(
        request.blocks,
        request.targets,
        answer,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        error_measure=measure,
    )
    return [breach.rule for breach in found]


@given(requests(max_blocks=7), st.sampled_from(MEASURES))
def test_what_is_compared_is_the_least_there_is(request_: Request, measure: ErrorMeasure) -> None:
    """Number served, blocks, largest and total error; proven, and confirmed by the checker."""
    request = of_older_grades(request_)
    answer, wanted = answered(request, measure), exhaustive(request, measure)

    assert len(answer.stacks) == wanted.served
    assert answer.total_blocks == wanted.total_blocks
    assert answer.compared_errors is not None
    assert (
        answer.compared_errors.largest
        == answer.compared_errors.largest_bound
        == wanted.largest_error
    )
    assert answer.compared_errors.total == answer.compared_errors.total_bound == wanted.total_error
    assert answer.objective_proven
    assert breaches(request, answer, measure) == []


@given(requests(max_blocks=7), st.sampled_from(MEASURES))
def test_each_engine_finds_it_by_itself(request_: Request, measure: ErrorMeasure) -> None:
    request = of_older_grades(request_)
    problem = build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective=request.objective,
            joint_allowance=request.joint_allowance,
            exclude=request.exclude,
            only=request.only,
            error_measure=measure,
        )
    )
    wanted = exhaustive(request, measure)

    for search in (engine.search, direct.search):
        found = search(problem, Deadline(AMPLE_MS))
        if found is None:  # beyond the tables of the engine
            continue
        assert found.plan is not None
        reached = totals(problem, found.plan)
        assert found.objective_proven
        assert (reached.served, reached.blocks) == (wanted.by_priority, wanted.total_blocks)
        assert (reached.largest_error, reached.total_error) == (
            wanted.largest_error,
            wanted.total_error,
        )


@given(requests(max_blocks=5))
def test_worst_case_errors_are_those_of_the_contract_by_any_measure(request: Request) -> None:
    """Figure by figure: |nominal + deviation - length| + margins + joints * joint allowance."""
    answer = answered(request, BY_VARIANCE)
    shelf = {block.id: block for block in request.blocks}

    for stack in answer.stacks:
        blocks = [shelf[placed.id] for placed in stack.blocks]
        budget = stack_budget(blocks, target=stack.length, joint_allowance=request.joint_allowance)
        assert stack.worst_case_error == budget.uncorrected.worst_case
    errors = [stack.worst_case_error for stack in answer.stacks]
    assert answer.largest_worst_case_error == max(errors, default=0)
    assert answer.total_worst_case_error == sum(errors)
    assert answer.bounds.largest_worst_case_error is None
    assert answer.bounds.total_worst_case_error is None


def certified(name: str, nominal: str, deviation: str, uncertainty: str) -> Block:
    return Block(
        id=name,
        nominal=mm(nominal),
        deviation=um(deviation),
        expanded_uncertainty=um(uncertainty),
        calibration=Calibration(certificate="K7"),
    )


def ids(blocks: Sequence[Block], measure: ErrorMeasure, objective: Objective) -> set[str]:
    answer = solve(
        blocks,
        [LengthTarget(ref="t", length=mm("30"))],
        objective=objective,
        error_measure=measure,
    )
    return {placed.id for placed in answer.stacks[0].blocks}


class TestWhatItIsFor:
    """A far off but well known block against one that is near but hardly known."""

    SHELF = (certified("known", "30", "0.50", "0.05"), certified("near", "30", "0.01", "0.20"))

    def test_by_the_worst_case_the_near_one_is_better(self) -> None:
        assert ids(self.SHELF, ErrorMeasure(), "least_error") == {"near"}

    @pytest.mark.parametrize("measure", [BY_VARIANCE, ErrorMeasure(corrected=True)])
    def test_whoever_corrects_takes_the_known_one(self, measure: ErrorMeasure) -> None:
        assert ids(self.SHELF, measure, "least_error") == {"known"}

    def test_squares_favour_several_small_uncertainties(self) -> None:
        """3 of 0.06 µm: sum 0.18, root of squares 0.104; one of 0.12 µm lies in between."""
        shelf = (
            certified("whole", "30", "0", "0.12"),
            *(certified(f"third-{i}", "10", "0", "0.06") for i in range(3)),
        )
        no_film = replace(BY_VARIANCE, conditions=Conditions(wringing=normal(0.0, 0.0)))

        assert len(ids(shelf, ErrorMeasure(corrected=True), "least_error")) == 1
        assert len(ids(shelf, no_film, "least_error")) == 3

    def test_the_root_of_the_figure_is_the_standard_uncertainty_of_the_budget(self) -> None:
        """Independent certificates at 20 °C: what is compared is the budget's own figure."""
        shelf = (certified("a", "10", "0", "0.06"), certified("b", "20", "0.1", "0.08"))
        under = Conditions(correlation=0.0, wringing=normal(0.0, 500.0))
        measure = ErrorMeasure(kind="expanded_uncertainty", corrected=True, conditions=under)

        answer = solve(shelf, [LengthTarget(ref="t", length=mm("30"))], error_measure=measure)

        assert answer.compared_errors is not None
        uncertainty = stack_budget(shelf, under).combined.standard_uncertainty_nm
        assert answer.compared_errors.largest**0.5 / 10 == pytest.approx(uncertainty, rel=1e-4)

    def test_uncorrected_the_offset_counts_as_one_more_uncertainty(self) -> None:
        """The budget's own figures: standard uncertainty and offset, squared and added."""
        shelf = (certified("a", "10", "0.03", "0.06"), certified("b", "20", "0.1", "0.08"))
        under = Conditions(correlation=0.0, wringing=normal(0.0, 500.0))
        measure = ErrorMeasure(kind="expanded_uncertainty", conditions=under)

        answer = solve(shelf, [LengthTarget(ref="t", length=mm("30"))], error_measure=measure)

        assert answer.compared_errors is not None
        budget = stack_budget(shelf, under, target=mm("30"))
        squares = budget.combined.standard_uncertainty_nm**2 + (budget.offset / 100) ** 2
        assert answer.compared_errors.largest / 100 == pytest.approx(squares, rel=1e-4)

    def test_offsets_and_uncertainties_are_weighed_against_each_other(self) -> None:
        """0.06 µm off and 0.15 at k = 2 are 60² + 75² nm²; 0.09 and 0.05 are 90² + 25²."""
        shelf = (certified("near", "30", "0.06", "0.15"), certified("far", "30", "0.09", "0.05"))

        known = certified("known", "30", "-0.02", "0.17")  # 20² + 85² nm², and 0.19 µm at worst

        assert ids(shelf, BY_SQUARES, "least_error") == {"far"}
        assert ids((*shelf, known), BY_SQUARES, "least_error") == {"known"}
        assert ids((*shelf, known), ErrorMeasure(), "least_error") == {"far"}

    def test_unequal_limits_are_taken_as_they_are(self) -> None:
        """Federal grade 3, 1 in: +8/-4 µin (from memory): 2 from the middle, give or take 6."""
        shelf = [Block(id="a", nominal=inch("1"), grade="3", unit="in")]
        targets = [LengthTarget(ref="t", length=inch("1"))]

        corrected = solve(
            shelf, targets, error_measure=ErrorMeasure(corrected=True, unequal_limits=True)
        )
        plain = solve(shelf, targets, error_measure=ErrorMeasure(unequal_limits=True))

        assert corrected.compared_errors is not None
        assert plain.compared_errors is not None
        assert (corrected.compared_errors.largest, plain.compared_errors.largest) == (
            uin("6"),
            uin("8"),
        )
        assert to_text(plain.stacks[0].worst_case_error, "uin") == "8"

    def test_a_corrected_stack_may_lie_anywhere_in_its_tolerance(self) -> None:
        """What its nominal length is off is known, and allowed for like a deviation."""
        shelf = [certified("off", "30.001", "0", "0.05"), certified("exact", "30", "0", "0.07")]
        targets = [
            LengthTarget(ref="t", length=mm("30"), tolerance=Tolerance(lower=0, upper=um("2")))
        ]

        answer = solve(
            shelf, targets, objective="least_error", error_measure=ErrorMeasure(corrected=True)
        )

        assert answer.stacks[0].blocks[0].id == "off"


class TestRefused:
    SHELF = (certified("a", "30", "0", "0.1"),)

    def pointers(self, measure: ErrorMeasure, *more: Block) -> list[str]:
        with pytest.raises(InputError) as caught:
            solve(
                (*self.SHELF, *more),
                [LengthTarget(ref="t", length=mm("30"))],
                error_measure=measure,
            )
        return [fault.pointer for fault in caught.value.faults]

    def test_offsets_of_millimetres_are_not_squared(self) -> None:
        far = Block(id="b", nominal=mm("30"), deviation=mm("1"), expanded_uncertainty=um("0.1"))

        assert self.pointers(BY_SQUARES, far) == ["/error_measure/corrected"]

    def test_variances_know_unequal_limits_anyway(self) -> None:
        assert self.pointers(replace(BY_VARIANCE, unequal_limits=True)) == [
            "/error_measure/unequal_limits"
        ]

    def test_blocks_that_are_anything_have_no_variance_to_plan_by(self) -> None:
        anything = Block(id="b", nominal=mm("30"), limit_deviation=mm("30"))

        assert self.pointers(BY_VARIANCE, anything) == ["/error_measure/kind"]


class TestChecker:
    SHELF = (certified("a", "30", "0.2", "0.1"),)
    TARGETS = (LengthTarget(ref="t", length=mm("30")),)

    def rules(self, answer: Answer, measure: ErrorMeasure) -> set[str]:
        found = verify(self.SHELF, self.TARGETS, answer, error_measure=measure)
        return {breach.rule for breach in found}

    def test_a_wrong_figure_is_found(self) -> None:
        answer = solve(self.SHELF, self.TARGETS, error_measure=BY_VARIANCE)
        assert answer.compared_errors is not None
        wrong = replace(
            answer, compared_errors=replace(answer.compared_errors, largest=1, largest_bound=1)
        )

        assert self.rules(wrong, BY_VARIANCE) == {"compared"}

    def test_another_measure_than_asked_for_is_found(self) -> None:
        answer = solve(self.SHELF, self.TARGETS, error_measure=BY_VARIANCE)
        usual = solve(self.SHELF, self.TARGETS)

        assert self.rules(answer, ErrorMeasure(corrected=True)) == {"compared"}
        assert "compared" in self.rules(answer, ErrorMeasure())
        assert self.rules(usual, BY_VARIANCE) >= {"compared"}

    def test_a_bound_that_cannot_be_is_found(self) -> None:
        answer = solve(self.SHELF, self.TARGETS, error_measure=BY_VARIANCE)
        assert answer.compared_errors is not None
        above = replace(answer.compared_errors, total_bound=answer.compared_errors.total + 1)

        assert self.rules(replace(answer, compared_errors=above), BY_VARIANCE) == {
            "objective bounds"
        }

    def test_bounds_of_worst_cases_that_were_not_compared_are_found(self) -> None:
        answer = solve(self.SHELF, self.TARGETS, error_measure=BY_VARIANCE)
        claimed = replace(answer, bounds=replace(answer.bounds, largest_worst_case_error=0))

        assert self.rules(claimed, BY_VARIANCE) == {"objective bounds"}
