"""Each rule of the direct model by itself: which plans it lets stand, and which not."""

from collections.abc import Sequence
from datetime import timedelta

from hypothesis import assume, given
from ortools.sat.python import cp_model

from solver import oracle_engine
from solver.problems import problem_of
from wrung import Block, LengthTarget, Tolerance, mm, um
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.blockwise.choices import Choices, Rule
from wrung.planning.blockwise.rules import (
    block_count,
    reach,
    single_use,
    wear_count,
    worst_case,
)
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import Plan, totals
from wrung.planning.problem import Problem, build_problem, error_of
from wrung.testing import SHIFT, Request, make_blocks, make_targets, requests


def problem(blocks: Sequence[Block], targets: Sequence[LengthTarget]) -> Problem:
    return build_problem(
        Order(blocks=blocks, targets=targets, objective="least_error", joint_allowance=um("0.1"))
    )


def model(of: Problem, *rules: Rule) -> Choices:
    scaled = Scaled(of)
    choices = Choices(scaled)
    for work in (choices.open(), *(rule(scaled, choices) for rule in rules)):
        list(work)
    return choices


def fix(of: Problem, choices: Choices, plan: Plan) -> None:
    """Leave the solver no choice of pieces."""
    kinds = Scaled(of).pieces
    for demand, stack in enumerate(plan):
        choices.model.add(choices.served[demand] == (stack is not None))
        for kind, use in choices.uses(demand).items():
            used = set(stack or ()) & set(kinds[kind])
            choices.model.add(use == len(used))


def stands(of: Problem, plan: Plan, *rules: Rule) -> bool:
    """Whether the plan keeps the rules."""
    choices = model(of, *rules)
    fix(of, choices, plan)
    return solved(choices) is not None


def least(of: Problem, plan: Plan, total: str, *rules: Rule) -> int:
    """The least value that the rules leave to ``errors`` or ``blocks`` of the first demand."""
    choices = model(of, *rules)
    fix(of, choices, plan)
    variable = {"errors": choices.errors, "blocks": choices.blocks}[total][0]
    choices.model.minimize(variable)
    solver = solved(choices)
    assert solver is not None
    return solver.value(variable)


def solved(choices: Choices) -> cp_model.CpSolver | None:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(choices.model)
    assert status in {cp_model.OPTIMAL, cp_model.INFEASIBLE}
    return solver if status == cp_model.OPTIMAL else None


def test_reach_wants_the_exact_length() -> None:
    of = problem(make_blocks("1.5 2 3"), make_targets("3.5"))

    assert stands(of, ((0, 1),), reach)
    assert not stands(of, ((0, 2),), reach)
    assert not stands(of, ((),), reach)


def test_reach_allows_what_is_within_tolerance() -> None:
    """3.5 mm and 4.5 mm lie within 3.4 mm to 4.6 mm, 5 mm does not."""
    wide = Tolerance(lower=-mm("0.6"), upper=mm("0.6"))
    of = problem(make_blocks("1.5 2 3"), [LengthTarget(ref="t", length=mm("4"), tolerance=wide)])

    assert stands(of, ((0, 1),), reach)
    assert stands(of, ((0, 2),), reach)
    assert not stands(of, ((1, 2),), reach)


def test_reach_leaves_an_unserved_demand_without_pieces() -> None:
    of = problem(make_blocks("1 2"), make_targets("3"))
    choices = model(of, reach)
    choices.model.add(choices.served[0] == 0)
    choices.model.add(choices.sum(list(choices.uses(0).values())) >= 1)

    assert solved(choices) is None


def test_reach_serves_nothing_outside_every_window() -> None:
    """No multiple of 1 mm lies at 2.5 mm."""
    of = problem(make_blocks("1 2"), make_targets("2.5"))

    assert stands(of, (None,), reach)
    assert not stands(of, ((1,),), reach)


def test_single_use_keeps_a_piece_to_one_stack_at_a_time() -> None:
    of = problem(make_blocks("1 2"), make_targets("2 3"))

    assert not stands(of, ((1,), (0, 1)), single_use)
    assert stands(of, ((1,), None), single_use)


def test_single_use_lets_times_that_do_not_overlap_share() -> None:
    noon = SHIFT + timedelta(hours=6)
    first = LengthTarget(ref="a", length=mm("2"), needed_until=noon)
    then = LengthTarget(ref="b", length=mm("3"), needed_from=noon)
    of = problem(make_blocks("1 2"), [first, then])

    assert stands(of, ((1,), (0, 1)), single_use)


def test_single_use_counts_pieces_that_are_alike() -> None:
    """Of two alike pieces each of two stacks may have one, or one stack both."""
    of = problem(make_blocks("2 2"), make_targets("2 4"))

    assert stands(of, ((0,), (1,)), single_use)
    assert stands(of, (None, (0, 1)), single_use)
    assert not stands(of, ((0,), (0, 1)), single_use)


def test_block_count_keeps_to_the_most_and_to_one() -> None:
    of = problem(make_blocks("1 2 3"), [LengthTarget(ref="t", length=mm("9"), max_blocks=2)])

    assert stands(of, ((0, 1),), block_count)
    assert not stands(of, ((0, 1, 2),), block_count)
    assert not stands(of, ((),), block_count)


def test_block_count_is_the_number_of_pieces() -> None:
    of = problem(make_blocks("1 2 3"), make_targets("9"))

    assert least(of, ((0, 1, 2),), "blocks", block_count) == 3


def test_wear_count_is_exact() -> None:
    blocks = (*make_blocks("1 2"), *make_blocks("2 2.5", role="wear"))
    of = problem(blocks, [LengthTarget(ref="t", length=mm("9"), wear_blocks="one")])

    assert stands(of, ((0, 2),), wear_count)
    assert not stands(of, ((0,),), wear_count)
    assert not stands(of, ((2, 3),), wear_count)
    assert not stands(of, ((0, 2, 3),), wear_count)


def test_a_stack_without_wear_blocks_has_no_choice_of_any() -> None:
    of = problem((*make_blocks("1"), *make_blocks("2", role="wear")), make_targets("9"))

    assert list(model(of).uses(0)) == [0]


def test_the_worst_case_is_that_of_the_contract() -> None:
    """|sum of nominals and deviations - target| + margins + joints * allowance, in grains."""
    blocks = [
        Block(id="a", nominal=mm("1"), deviation=-um("0.3"), expanded_uncertainty=um("0.05")),
        Block(id="b", nominal=mm("2"), deviation=um("0.1"), expanded_uncertainty=um("0.07")),
    ]
    wide = Tolerance(lower=-mm("1"), upper=mm("1"))
    of = problem(blocks, [LengthTarget(ref="t", length=mm("3"), tolerance=wide)])
    plan: Plan = ((0, 1),)
    grains = least(of, plan, "errors", reach, worst_case)

    assert grains * Scaled(of).grain == um("0.42")
    assert error_of(of, 0, (0, 1)) == um("0.42")


def test_the_largest_error_is_no_smaller_than_any() -> None:
    of = problem(make_blocks("1 2"), make_targets("1 2"))
    choices = model(of, worst_case)
    fix(of, choices, ((0,), (1,)))
    choices.model.add(choices.largest < choices.errors[1])

    assert solved(choices) is None


@given(requests())
def test_no_rule_forbids_a_best_plan(request: Request) -> None:
    """The exhaustive search's plan keeps every rule."""
    of = problem_of(request)
    best = oracle_engine.search(of, Deadline(60_000)).plan
    assert best is not None

    assert stands(of, best, reach, block_count, wear_count, single_use, worst_case)


@given(requests(max_targets=1))
def test_the_errors_of_the_rules_are_the_true_ones(request: Request) -> None:
    """All rules together leave a fixed stack exactly its worst-case error."""
    of = problem_of(request)
    plan = oracle_engine.search(of, Deadline(60_000)).plan
    assume(plan is not None and plan[0] is not None)
    assert plan is not None
    grains = least(of, plan, "errors", reach, worst_case)

    assert grains * Scaled(of).grain == totals(of, plan).largest_error
