"""Small shelves at the edges of what there is: every search comes to the end, and to the same."""

from collections.abc import Sequence
from typing import Final

import pytest

from solver import oracle_engine
from solver.proofs.shelves import OBJECTIVES, certified, problem_of
from wrung import Block, LengthTarget, Objective, Tolerance, mm, solve, um
from wrung.deadline import Deadline
from wrung.planning import direct, engine
from wrung.planning.finding import Totals, totals
from wrung.planning.problem import Problem
from wrung.testing import make_blocks, make_targets

AMPLE_MS: Final = 60_000
QUANTUM: Final = 1
LONGEST: Final = mm("1000")
"""A common longest length of single blocks; a stack of them is longer (common practice)."""


def agreed(problem: Problem) -> Totals:
    """What the exhaustive search, the direct model and the engine all come to."""
    wanted = oracle_engine.search(problem, Deadline(AMPLE_MS)).plan
    assert wanted is not None
    best = totals(problem, wanted)
    found = engine.search(problem, Deadline(AMPLE_MS))
    assert found is not None
    for one in (found, direct.search(problem, Deadline(AMPLE_MS))):
        assert one.plan is not None
        assert one.objective_proven
        assert totals(problem, one.plan) == best
    return best


def by_lengths(blocks: Sequence[Block], lengths: str, objective: Objective) -> Problem:
    return problem_of(blocks, make_targets(lengths), objective)


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(
    ("nominals", "lengths", "served", "blocks"),
    [
        ("10 10 10 10 10 10", "10 20 30", 3, 6),
        ("10 10 10 10 10 10", "30 40 20", 2, 5),
        ("10 10 10 10 10 10", "70", 0, 0),
        ("10 10 10 10 10 10", "15 25", 0, 0),
        ("7", "7", 1, 1),
        ("7", "7 7", 1, 1),
        ("7", "8", 0, 0),
    ],
    ids=["equal", "too few", "too long", "between", "one", "one for two", "one in vain"],
)
def test_equal_blocks_and_single_ones(
    nominals: str, lengths: str, served: int, blocks: int, objective: Objective
) -> None:
    """With equal blocks it is counting: a length of n blocks takes n, whichever they are."""
    best = agreed(by_lengths(make_blocks(nominals), lengths, objective))

    assert (sum(best.served), best.blocks) == (served, blocks)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("objective", OBJECTIVES)
def test_equal_lengths_with_unlike_certificates(objective: Objective, seed: int) -> None:
    """Nothing but deviations tells the blocks apart."""
    blocks = certified([mm("5")] * 8, seed)

    assert agreed(by_lengths(blocks, "10 10 15", objective)).blocks == 7


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize(
    "lengths", ["24 30 36 42", "100", "41 43 47 53", "18 18 18", "2 4 6 9"], ids=str
)
def test_primes_have_no_step_in_common(lengths: str, objective: Objective) -> None:
    """No level of a table is coarser than another; the sums still are many."""
    agreed(by_lengths(make_blocks("2 3 5 7 11 13 17 19 23"), lengths, objective))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("objective", OBJECTIVES)
def test_primes_with_deviations(objective: Objective, seed: int) -> None:
    blocks = certified([mm(str(p)) for p in (2, 3, 5, 7, 11, 13, 17, 19, 23)], seed)

    agreed(by_lengths(blocks, "25 31 38", objective))


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_without_margins_only_counts_tell_plans_apart(objective: Objective) -> None:
    """5 by one block, and by 1 + 4 and 2 + 3."""
    best = agreed(by_lengths(make_blocks("1 2 3 4 5", limit_deviation="0"), "5 5 5", objective))

    assert best == Totals(served=(3,), blocks=5, largest_error=0, total_error=0)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_negative_deviations_add_up(objective: Objective) -> None:
    """All too short: 1 + 2 is 0.3 µm short, 3 by itself 0.5 µm; margins 0.01 µm a block."""
    figures = (("1", "-0.1"), ("2", "-0.2"), ("3", "-0.5"))
    blocks = [
        Block(id=f"b{n}", nominal=mm(a), deviation=um(b), expanded_uncertainty=um("0.01"))
        for n, (a, b) in enumerate(figures)
    ]
    best = agreed(by_lengths(blocks, "3", objective))

    wanted = (1, um("0.51")) if objective == "fewest_blocks" else (2, um("0.32"))
    assert (best.blocks, best.largest_error) == wanted


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_deviation_larger_than_the_block_counts_as_it_is(objective: Objective) -> None:
    """Nonsense on a certificate is the user's; the sums hold."""
    blocks = [
        Block(id="a", nominal=um("1"), deviation=-um("3"), expanded_uncertainty=0),
        Block(id="b", nominal=um("2"), deviation=um("3"), expanded_uncertainty=0),
        Block(id="c", nominal=um("3"), deviation=um("1"), expanded_uncertainty=0),
    ]
    best = agreed(problem_of(blocks, [LengthTarget(ref="t", length=um("3"))], objective))

    assert best.largest_error == (um("1") if objective == "fewest_blocks" else 0)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_one_quantum_is_a_length_like_any_other(objective: Objective) -> None:
    """The finest length, 0.01 nm; and stacks that differ by it alone."""
    blocks = [
        Block(id=f"b{n}", nominal=n * QUANTUM, deviation=0, expanded_uncertainty=0)
        for n in (1, 2, 3)
    ]
    targets = [LengthTarget(ref=f"t{n}", length=n * QUANTUM) for n in (1, 2, 3, 4)]

    assert agreed(problem_of(blocks, targets, objective)).served == (3,)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_both_ends_of_the_range_in_one_request(objective: Objective) -> None:
    """Blocks of 1 µm beside such of 500 mm; the longest stack takes all there is."""
    shelf = make_blocks("0.001 0.001 500 500")

    assert agreed(by_lengths(shelf, "500.001 500.001 1000", objective)).served == (2,)
    assert agreed(by_lengths(shelf, "1000.002", objective)).blocks == 4


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_quantum_beside_a_metre_needs_no_common_step(objective: Objective) -> None:
    """10^11 of their common steps: each length is a grid of its own."""
    blocks = [
        Block(id=name, nominal=nominal, deviation=0, expanded_uncertainty=0)
        for name, nominal in (("fine", QUANTUM), ("long", LONGEST), ("longer", LONGEST + 1))
    ]
    targets = [LengthTarget(ref="t", length=2 * LONGEST + 2)]
    best = agreed(problem_of(blocks, targets, objective))

    assert best.blocks == 3


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_lengths_without_a_step_are_beyond_tables_and_still_found(objective: Objective) -> None:
    """However many of them have grids of their own: the engine passes, the direct model proves."""
    nominals = [LONGEST - n * n * 73 for n in range(1, 31)]
    targets = [LengthTarget(ref="t", length=nominals[3] + nominals[7])]
    problem = problem_of(certified(nominals, 1), targets, objective)

    assert engine.search(problem, Deadline(AMPLE_MS)) is None
    found = direct.search(problem, Deadline(AMPLE_MS))
    assert found.plan is not None
    assert found.objective_proven
    assert totals(problem, found.plan).blocks == 2


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_window_wider_than_everything_takes_the_best_single_block(objective: Objective) -> None:
    """Any length will do; what it is off counts as its error."""
    window = Tolerance(lower=-mm("20"), upper=mm("20"))
    target = LengthTarget(ref="t", length=mm("10"), tolerance=window)
    best = agreed(problem_of(make_blocks("1 2 3 4 8"), [target], objective))

    wanted = (1, mm("2") + um("0.2")) if objective == "fewest_blocks" else (2, um("0.4"))
    assert (best.blocks, best.largest_error) == wanted


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_shelf_without_blocks_serves_nothing(objective: Objective) -> None:
    answer = solve((), make_targets("1 2"), objective=objective)

    assert (answer.outcome, answer.bounds.served) == ("infeasible", 0)
    assert {unmet.reason for unmet in answer.unmet} == {"cannot_be_built"}
