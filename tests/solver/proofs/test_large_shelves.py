"""600 blocks, 60 targets: exact where counting settles it, bounds and rules everywhere else.

How long it takes is measured by `python -m tests.bench.growth`.
"""

from collections.abc import Callable, Sequence
from typing import Final

import pytest

from solver.proofs.countdown import Countdown
from solver.proofs.shelves import OBJECTIVES, certified, hundredths, random_targets, two_sets
from wrung import Answer, Block, LengthTarget, Objective, inch, mm, um, verify
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.execution import answered as answered_by
from wrung.testing import make_blocks, make_targets

AMPLE_MS: Final = 60_000
SOME_LOOKS: Final = 320
"""At the clock: enough for a first plan, and for a proof at most of what is easily proven."""
MARGIN: Final = um("0.2")
"""Of the blocks of `make_blocks`."""


def answered(
    blocks: Sequence[Block],
    targets: Sequence[LengthTarget],
    objective: Objective,
    limits: Callable[[], Deadline] = lambda: Deadline(AMPLE_MS),
) -> Answer:
    """The answer, confirmed by the checker; one limit for the search, one for the answer."""
    order = Order(blocks=blocks, targets=targets, objective=objective, joint_allowance=0)
    answer = answered_by(order, limits(), limits())
    assert not verify(blocks, targets, answer, objective=objective, joint_allowance=0)
    return answer


def lengths(first: int, last: int) -> tuple[LengthTarget, ...]:
    """Targets of so many hundredths of a millimetre."""
    return make_targets(" ".join(f"{n / 100:.2f}" for n in range(first, last + 1)))


def six_hundred() -> tuple[Block, ...]:
    return make_blocks(" ".join(f"{n / 100:.2f}" for n in range(1, 601)))


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_a_block_for_each_target(objective: Objective) -> None:
    """Sixty lengths that each are a block."""
    answer = answered(six_hundred(), lengths(541, 600), objective)

    assert answer.outcome == "optimal"
    assert (answer.total_blocks, answer.total_worst_case_error) == (60, 60 * MARGIN)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_one_length_over_and_over(objective: Objective) -> None:
    """One stack is of a single block; no other can be, and two blocks are enough for each."""
    answer = answered(six_hundred(), make_targets("6 6 6 6 6"), objective)

    assert answer.outcome == "optimal"
    assert (answer.total_blocks, answer.largest_worst_case_error) == (1 + 4 * 2, 2 * MARGIN)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_six_hundred_equal_blocks(objective: Objective) -> None:
    """60 stacks of ten use them all up; of stacks of eleven there are 54."""
    shelf = make_blocks(" ".join(["1"] * 600))
    all_used = answered(shelf, make_targets(" ".join(["10"] * 60)), objective)
    too_few = answered(shelf, make_targets(" ".join(["11"] * 60)), objective)

    assert (all_used.outcome, all_used.total_blocks) == ("optimal", 600)
    assert (too_few.outcome, too_few.proven) == ("partial", True)
    assert (len(too_few.stacks), too_few.total_blocks) == (54, 594)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_one_block_and_sixty_targets(objective: Objective) -> None:
    answer = answered(make_blocks("7"), make_targets(" ".join(["7"] * 60)), objective)

    assert (answer.outcome, answer.proven, len(answer.stacks)) == ("partial", True, 1)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_sixty_lengths_that_nothing_builds(objective: Objective) -> None:
    """All longer than all blocks together."""
    targets = make_targets(" ".join(str(2_000 + n) for n in range(60)))
    answer = answered(six_hundred(), targets, objective)

    assert (answer.outcome, answer.proven) == ("infeasible", True)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_beyond_the_reach_of_a_proof_there_is_a_plan_and_a_bound(objective: Objective) -> None:
    """60 lengths of two blocks each of 600: the least of 120 blocks, and of the margins of two."""
    answer = answered(six_hundred(), lengths(601, 660), objective, lambda: Countdown(SOME_LOOKS))

    few = objective == "fewest_blocks"
    assert answer.outcome in {"feasible", "optimal"}
    bound = answer.bounds.total_blocks if few else answer.bounds.largest_worst_case_error
    assert bound == (120 if few else 2 * MARGIN)


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_sixty_targets_share_eighteen_blocks_of_four_decimals(objective: Objective) -> None:
    """Every length with a fourth decimal takes one of the nine of each set."""
    targets = random_targets(60, seed=1)
    fourth = sum(target.length % inch("0.001") != 0 for target in targets)
    answer = answered(two_sets(), targets, objective, lambda: Countdown(SOME_LOOKS))

    assert fourth > 18
    assert answer.outcome == "partial"
    assert 0 < len(answer.stacks) <= answer.bounds.served <= 18 + 60 - fourth


@pytest.mark.parametrize("objective", OBJECTIVES)
@pytest.mark.parametrize("looks", [0, 1, 10, 100, 300])
def test_no_look_at_the_clock_is_too_early(looks: int, objective: Objective) -> None:
    """600 certified blocks and 60 targets, cut short wherever: what is claimed holds."""
    shelf = certified(hundredths(600), seed=1)
    answer = answered(shelf, lengths(601, 660), objective, lambda: Countdown(looks))

    assert answer.bounds.served == 60
    assert (answer.bounds.total_blocks or 0) <= 120


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_long_blocks_and_one_quantum_more(objective: Objective) -> None:
    """Up to 500 mm in steps of 0.01 nm: beyond any table, and one block each is still found."""
    shelf = [
        Block(id=f"b{n}", nominal=mm("500") - n * 7_919, deviation=0, expanded_uncertainty=0)
        for n in range(100)
    ]
    targets = [LengthTarget(ref=f"t{n}", length=mm("500") - n * 7_919) for n in range(10)]
    answer = answered(shelf, targets, objective)

    assert len(answer.stacks) == 10
    assert answer.total_blocks == 10
