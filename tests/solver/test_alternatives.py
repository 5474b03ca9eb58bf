"""Next best stacks, held to a list of every stack there is."""

from collections.abc import Sequence
from itertools import combinations
from typing import Final, Unpack

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle
from solver.metrology.test_measuring import BY_SQUARES, BY_VARIANCE, measured
from wrung import (
    Alternatives,
    Answer,
    Block,
    Cancel,
    GaugeSet,
    InputError,
    LengthTarget,
    Objective,
    Preference,
    Tolerance,
    alternatives,
    inch,
    mm,
    solve,
    um,
)
from wrung.checker.choices import verify_alternatives
from wrung.deadline import Deadline
from wrung.metrology import WORST_CASE, ErrorMeasure
from wrung.options import Options
from wrung.order import Order
from wrung.planning.finding import totals
from wrung.planning.problem import Problem, build_problem
from wrung.planning.ranking import Ranking, by_cuts, by_tables, kinds_of, rank
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

AMPLE_MS: Final = 60_000
MEASURES: Final = (ErrorMeasure(corrected=True), BY_VARIANCE, BY_SQUARES)


def usable(request: Request) -> list[Block]:
    return [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]


def problem_of(request: Request, measure: ErrorMeasure = WORST_CASE) -> Problem:
    return build_problem(
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
    # Blocks and error; the total error of a single stack says the same once more.
    few = problem.objective == "fewest_blocks"
    reached = [totals(problem, (each.stack,)) for each in ranking.stacks]
    pairs = [(each.blocks, each.total_error) for each in reached]
    values = pairs if few else [(error, blocks) for blocks, error in pairs]
    kinds = {kinds_of(problem, each.stack) for each in ranking.stacks}
    assert values == every[: len(values)]
    assert len(kinds) == len(values)
    assert all(each.proven for each in ranking.stacks)


@given(requests(max_blocks=9, max_targets=1), st.integers(1, 8))
def test_tables_list_the_best_of_all_stacks(request: Request, wanted: int) -> None:
    problem, every = problem_of(request), every_value(request)
    ranking = by_tables(problem, wanted, Deadline(AMPLE_MS))

    if ranking is not None:  # else it is beyond the tables
        assert_best(problem, ranking, every)
        assert len(ranking.stacks) == min(wanted, len(every))
        assert ranking.complete == (len(every) <= wanted)


@given(requests(max_blocks=9, max_targets=1), st.integers(1, 6))
def test_limits_that_rise_list_the_best_of_all_stacks(request: Request, wanted: int) -> None:
    """With shelves too large to list every stack at once; here one partial stack is too many."""
    problem, every = problem_of(request), every_value(request)
    deadline = Deadline(AMPLE_MS, tuning=Tuning(most_partial_of_all=0))
    ranking = by_tables(problem, wanted, deadline)

    if ranking is not None:
        assert_best(problem, ranking, every)
        assert len(ranking.stacks) == min(wanted, len(every))


@given(requests(max_blocks=9, max_targets=1), st.integers(1, 6), st.integers(1, 30))
def test_what_is_cut_off_is_still_the_best_of_all_stacks(
    request: Request, wanted: int, most: int
) -> None:
    """Too many stacks within a limit: it falls again; whatever is said to be proven is."""
    problem, every = problem_of(request), every_value(request)
    tuning = Tuning(most_partial_of_all=0, most_partial_ranked=most)
    ranking = by_tables(problem, wanted, Deadline(AMPLE_MS, tuning=tuning))

    if ranking is not None:
        proven = tuple(each for each in ranking.stacks if each.proven)
        assert_best(problem, replace(ranking, stacks=proven), every)
        assert ranking.stacks[: len(proven)] == proven


@given(requests(max_blocks=8, max_targets=1), st.integers(1, 6))
def test_cuts_list_the_best_of_all_stacks(request: Request, wanted: int) -> None:
    problem, every = problem_of(request), every_value(request)
    ranking = by_cuts(problem, wanted, Deadline(AMPLE_MS))

    assert_best(problem, ranking, every)
    assert len(ranking.stacks) == min(wanted, len(every))


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
        by_tables(problem, wanted, Deadline(AMPLE_MS)),
        by_cuts(problem, wanted, Deadline(AMPLE_MS)),
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
    assert not breaches(request, answer, others)
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


def breaches(request: Request, answer: Answer, others: Alternatives) -> list[str]:
    found = verify_alternatives(
        request.blocks,
        request.targets,
        answer,
        others,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )
    return [breach.rule for breach in found]


class TestWhatCountsAsAnother:
    """Three blocks of 10 mm: two alike, one certified; 1 + 9 mm besides."""

    SHELF = (
        *make_blocks("10 10 1 9", limit_deviation="0.2"),
        Block(id="k", nominal=mm("10"), deviation=um("0.1"), expanded_uncertainty=um("0.1")),
    )
    TARGETS = make_targets("10")

    def ranks(self, count: int, **options: Unpack[Options]) -> list[tuple[int, list[str]]]:
        answer = solve(self.SHELF, self.TARGETS, **options)
        found = alternatives(self.SHELF, self.TARGETS, answer, count=count, **options)
        return [(each.rank, [b.id for b in each.stack.blocks]) for each in found.stacks]

    def test_blocks_that_may_stand_for_one_another_make_one_stack(self) -> None:
        """The certified block is as good as the two others, but not the same."""
        (first, single), (second, pair) = self.ranks(5)

        assert (first, len(single)) == (1, 1)
        assert (second, pair) == (3, ["b3", "b2"])

    def test_a_block_left_out_makes_no_stack(self) -> None:
        assert self.ranks(5, exclude=["k"]) == [(2, ["b3", "b2"])]

    def test_no_more_are_given_than_asked_for(self) -> None:
        assert len(self.ranks(1)) == 1

    def test_whoever_corrects_tells_blocks_apart_by_their_margins_alone(self) -> None:
        """The certified block is better now, and the deviation of 0.1 µm is no difference."""
        corrected = ErrorMeasure(corrected=True)

        assert [rank for rank, _ in self.ranks(5, error_measure=corrected)] == [2, 3]


@given(st.lists(st.integers(0, 9), min_size=7, max_size=7), st.booleans())
def test_of_blocks_that_may_stand_for_one_another_the_preferred_are_named(
    uses: list[int],
    set_first: bool,  # noqa: FBT001 - drawn
) -> None:
    """By the first preference, then by the next: held to every stack of the same lengths."""
    blocks = [
        replace(block, uses=used, set="AB"[k % 2])
        for k, (block, used) in enumerate(zip(make_blocks("4 4 3 3 3 7 7"), uses, strict=True))
    ]
    goals = [Preference(goal="spread_wear"), Preference(goal="prefer_set", set="A")]
    goals = goals[::-1] if set_first else goals

    def cost(stack: Sequence[Block]) -> list[int]:
        worn, others = sum(b.uses for b in stack), sum(b.set != "A" for b in stack)
        return [others, worn] if set_first else [worn, others]

    targets = make_targets("14")
    found = alternatives(
        blocks, targets, solve(blocks, targets, preferences=goals), preferences=goals
    )

    assert len(found.stacks) == 2
    for each in found.stacks:
        lengths = sorted(placed.nominal for placed in each.stack.blocks)
        alike = [s for n in range(1, 6) for s in combinations(blocks, n)
                 if sorted(block.nominal for block in s) == lengths]  # fmt: skip
        named = {placed.id for placed in each.stack.blocks}
        assert cost([b for b in blocks if b.id in named]) == min(map(cost, alike))


def test_a_target_that_cannot_be_built_has_no_alternatives() -> None:
    shelf, targets = make_blocks("1 2 4"), make_targets("8")
    found = alternatives(shelf, targets, solve(shelf, targets))

    assert found == Alternatives(stacks=(), complete=True)


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_a_whole_set_has_its_ranks_proven(objective: Objective) -> None:
    """Far more stacks than can be listed: limits rise until as many as asked for are within."""
    shelf = GaugeSet(id="s", composition="inch-81", grade="AS-1").blocks()
    targets = [LengthTarget(ref="t", length=inch("1.3754"))]
    answer = solve(shelf, targets, objective=objective, time_limit_ms=AMPLE_MS)
    found = alternatives(
        shelf, targets, answer, count=20, objective=objective, time_limit_ms=AMPLE_MS
    )

    assert [each.proven for each in found.stacks] == [True] * 20
    assert not found.complete
    assert not verify_alternatives(shelf, targets, answer, found, objective=objective)


def test_lengths_that_no_table_holds_are_ranked_by_cuts() -> None:
    """10 m in steps of 0.01 nm, which thirty lengths that fit into no stack have in common."""
    lengths = {"a": mm("9999.99999"), "b": 1, "c": mm("5000"), "d": 1000}
    lengths |= {f"e{n}": mm("6000") + n * n * 73 for n in range(1, 31)}
    shelf = [
        Block(id=name, nominal=length, limit_deviation=um("1")) for name, length in lengths.items()
    ]
    targets = [LengthTarget(ref="t", length=mm("10000"), tolerance=Tolerance(lower=-2000, upper=0))]
    answer = solve(shelf, targets, time_limit_ms=AMPLE_MS)
    found = alternatives(shelf, targets, answer, time_limit_ms=AMPLE_MS)

    assert answer.diagnostics.engine == "direct"
    assert [each.rank for each in found.stacks] == [2, 3]
    assert [sorted(b.id for b in each.stack.blocks) for each in found.stacks] == [
        ["a", "d"],
        ["a", "b"],
    ]
    assert found.complete


def test_an_ended_search_claims_nothing() -> None:
    shelf, targets = make_blocks("1 2 3 4 5"), make_targets("10")
    answer = solve(shelf, targets)
    cancel = Cancel()
    cancel.cancel()
    found = alternatives(shelf, targets, answer, cancel=cancel)

    assert not found.complete
    assert not any(each.proven for each in found.stacks)


class TestRefused:
    def pointers(self, lengths: str, *, count: int = 5, time_limit_ms: float = 2000) -> list[str]:
        shelf, targets = make_blocks("1 2 3"), make_targets(lengths)
        answer = solve(shelf, targets)
        with pytest.raises(InputError) as caught:
            alternatives(shelf, targets, answer, count=count, time_limit_ms=time_limit_ms)
        return [fault.pointer for fault in caught.value.faults]

    def test_several_stacks_have_no_next_best_of_their_own(self) -> None:
        assert self.pointers("1 2") == ["/alternatives"]

    @pytest.mark.parametrize("count", [0, 21])
    def test_no_number_is_given_that_is_none_or_too_large(self, count: int) -> None:
        assert self.pointers("1", count=count) == ["/alternatives"]

    def test_no_time_is_no_request(self) -> None:
        assert self.pointers("1", time_limit_ms=0) == ["/time_limit_ms"]
