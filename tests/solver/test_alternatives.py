"""Next best stacks, held to a list of every stack there is."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle
from solver.metrology.test_measuring import BY_VARIANCE, measured
from wrung import Alternative, Alternatives, Answer, Cancel, alternatives, inch, mm, solve, uin, um
from wrung.answers import Objective
from wrung.blocks import Block
from wrung.errors import InputError
from wrung.metrology import WORST_CASE, ErrorMeasure, RequiredRatio
from wrung.planning.alternatives import rank
from wrung.planning.deadline import Deadline
from wrung.planning.problem import Problem, build_problem
from wrung.planning.ranking import by_cuts, by_tables
from wrung.planning.ranking.ranked import Ranking, kinds_of, value_of
from wrung.targets import LengthTarget, Tolerance
from wrung.testing import Request, make_blocks, make_targets, requests

AMPLE_MS: Final = 60_000
MEASURES: Final = (ErrorMeasure(corrected=True), BY_VARIANCE)


def usable(request: Request) -> list[Block]:
    return [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]


def problem_of(request: Request, measure: ErrorMeasure = WORST_CASE) -> Problem:
    return build_problem(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        measure=measure,
    )


def every_value(
    request: Request, measure: ErrorMeasure = WORST_CASE, most_error: int | None = None
) -> list[tuple[int, int]]:
    (wanted,) = (each for target in request.targets for each in target.requirements())
    return oracle.ranked(
        usable(request),
        wanted,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        measure=None if measure.usual else measured(request, measure),
        most_error=most_error,
    )


def assert_best(problem: Problem, ranking: Ranking, every: Sequence[tuple[int, int]]) -> None:
    """The first of all stacks, no two alike, each proven; complete if there are no others."""
    values = [value_of(problem, each.stack) for each in ranking.stacks]
    kinds = {kinds_of(problem, each.stack) for each in ranking.stacks}
    assert values == every[: len(values)]
    assert len(kinds) == len(values)
    assert all(each.proven for each in ranking.stacks)


@given(requests(max_blocks=9, max_targets=1), st.integers(1, 8))
def test_tables_list_the_best_of_all_stacks(request: Request, wanted: int) -> None:
    problem, every = problem_of(request), every_value(request)
    ranking = by_tables.rank(problem, wanted, Deadline(AMPLE_MS))

    if ranking is not None:  # else it is beyond the tables
        assert_best(problem, ranking, every)
        assert len(ranking.stacks) == min(wanted, len(every))
        assert ranking.complete == (len(every) <= wanted)


@given(requests(max_blocks=9, max_targets=1), st.integers(1, 6))
def test_limits_that_rise_list_the_best_of_all_stacks(request: Request, wanted: int) -> None:
    """With shelves too large to list every stack at once; here one partial stack is too many."""
    problem, every = problem_of(request), every_value(request)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(by_tables, "_MOST_PARTIAL_OF_ALL", 0)
        ranking = by_tables.rank(problem, wanted, Deadline(AMPLE_MS))

    if ranking is not None:
        assert_best(problem, ranking, every)
        assert len(ranking.stacks) == min(wanted, len(every))


@given(requests(max_blocks=9, max_targets=1), st.integers(1, 6), st.integers(1, 30))
def test_what_is_cut_off_is_still_the_best_of_all_stacks(
    request: Request, wanted: int, most: int
) -> None:
    """Too many stacks within a limit: it falls again; whatever is said to be proven is."""
    problem, every = problem_of(request), every_value(request)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(by_tables, "_MOST_PARTIAL_OF_ALL", 0)
        patch.setattr(by_tables, "_MOST_PARTIAL", most)
        ranking = by_tables.rank(problem, wanted, Deadline(AMPLE_MS))

    if ranking is not None:
        assert_best(problem, replace(ranking, stacks=ranking.proven), every)
        assert ranking.stacks[: len(ranking.proven)] == ranking.proven


@given(requests(max_blocks=8, max_targets=1), st.integers(1, 6))
def test_cuts_list_the_best_of_all_stacks(request: Request, wanted: int) -> None:
    problem, every = problem_of(request), every_value(request)
    ranking = by_cuts.rank(problem, wanted, (), Deadline(AMPLE_MS))

    assert_best(problem, ranking, every)
    assert len(ranking.stacks) == min(wanted, len(every))


@given(requests(max_blocks=8, max_targets=1), st.integers(1, 4), st.integers(1, 4))
def test_cuts_go_on_where_tables_ended(request: Request, known: int, more: int) -> None:
    problem, every = problem_of(request), every_value(request)
    tabled = by_tables.rank(problem, known, Deadline(AMPLE_MS))
    if tabled is not None:
        ranking = by_cuts.rank(problem, known + more, tabled.stacks, Deadline(AMPLE_MS))

        assert_best(problem, ranking, every)
        assert len(ranking.stacks) == min(known + more, len(every))


@given(requests(max_blocks=7, max_targets=1), st.sampled_from(MEASURES), st.integers(1, 6))
def test_ranks_are_by_the_measure_asked_for(
    request: Request, measure: ErrorMeasure, wanted: int
) -> None:
    problem, every = problem_of(request, measure), every_value(request, measure)
    ranking = rank(problem, wanted, Deadline(AMPLE_MS))

    assert_best(problem, ranking, every)
    assert len(ranking.stacks) == min(wanted, len(every))


@given(requests(max_blocks=8, max_targets=1), st.integers(0, 40), st.sampled_from([1, 5]))
def test_a_required_ratio_leaves_stacks_out(request: Request, tenths: int, wanted: int) -> None:
    """By the tables and by cuts: only stacks of no larger error are listed."""
    most = um("0.1") * tenths
    problem, every = problem_of(request), every_value(request, most_error=most)
    limited = tuple(replace(demand, most_error=most) for demand in problem.demands)
    problem = replace(problem, demands=limited)

    for ranking in (
        by_tables.rank(problem, wanted, Deadline(AMPLE_MS)),
        by_cuts.rank(problem, wanted, (), Deadline(AMPLE_MS)),
    ):
        if ranking is not None:
            assert_best(problem, ranking, every)
            assert len(ranking.stacks) == min(wanted, len(every))


@given(requests(max_blocks=8, max_targets=1), st.integers(1, 6))
def test_the_answer_and_its_alternatives_are_the_best_of_all_stacks(
    request: Request, count: int
) -> None:
    """With ranks that count the answer's own stack, and equal ranks for what is as good."""
    every = every_value(request)
    answer, others = asked(request, count)
    found = [(answer.total_blocks, answer.largest_worst_case_error)] * len(answer.stacks)
    found += [(len(each.stack.blocks), each.stack.worst_case_error) for each in others.stacks]
    few = request.objective == "fewest_blocks"
    values = [pair if few else pair[::-1] for pair in found]

    assert values == every[: count + 1]
    assert others.complete == (len(every) <= count + 1)
    for each, value in zip(others.stacks, values[1:], strict=True):
        assert each.rank == 1 + sum(other < value for other in every)
        assert each.proven


def asked(request: Request, count: int) -> tuple[Answer, Alternatives]:
    answer = solve(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        time_limit_ms=AMPLE_MS,
    )
    others = alternatives(
        request.blocks,
        request.targets,
        answer,
        count=count,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        time_limit_ms=AMPLE_MS,
    )
    return answer, others
