"""What an explanation is made of: patterns of fine pieces, and stacks built one after another."""

from collections import Counter
from collections.abc import Collection
from itertools import combinations, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.problems import problem_of
from wrung import Block, GaugeSet, LengthTarget, inch, mm, solve
from wrung.deadline import Deadline
from wrung.lengths import Unit, parse
from wrung.planning.building.builder import Builder
from wrung.planning.building.coarse_tables import Mask
from wrung.planning.building.fine import Fine, each_step
from wrung.planning.building.proofs import Proofs
from wrung.planning.problem import Problem, error_of
from wrung.planning.shortage.conflict import Standing
from wrung.testing import Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

INCH_81 = GaugeSet(id="s", composition="inch-81", grade="AS-1").blocks()
TWELVE = "0.2341 0.3512 0.4273 0.5134 0.6925 0.7256 0.8417 0.9378 1.0129 1.1241 1.2612 1.3373"


def ample() -> Deadline:
    return Deadline(60_000)


def plain(blocks: str, targets: str) -> Problem:
    return problem_of(Request(blocks=make_blocks(blocks), targets=make_targets(targets)))


def most_packed(problem: Problem, fine: Fine, demands: Collection[int]) -> int:
    """Try every choice of patterns, and of demands that go without."""
    there = Counter(piece.nominal for piece in problem.pieces if not piece.wear)
    none = (0,) * len(fine.lengths)
    ways = [
        [none, *(tuple(fine.uses[row]) for row in fine.rows(problem.demands[k]))] for k in demands
    ]
    choices = (
        chosen
        for chosen in product(*([*enumerate(own)] for own in ways))
        if all(
            sum(pieces[column] for _, pieces in chosen) <= there[length]
            for column, length in enumerate(fine.lengths)
        )
    )
    return max(sum(number > 0 for number, _ in chosen) for chosen in choices)


def test_inch_and_metric_series_have_a_step_in_common() -> None:
    """All but one of the blocks are whole multiples of 0.2 µm; none of the targets is."""
    both: dict[Unit, str] = {
        "in": "0.1001 0.1 0.101 0.2 0.3 0.5 1 2",
        "mm": "1.01 1.02 1.05 2 5 10 20",
    }
    blocks = tuple(
        Block(id=f"{unit}{n}", nominal=parse(text, unit), limit_deviation=0)
        for unit, lengths in both.items()
        for n, text in enumerate(lengths.split())
    )
    targets = tuple(
        LengthTarget(ref=f"t{n}", length=inch(text))
        for n, text in enumerate(("0.3001", "0.8001", "1.2001"))
    )
    problem = problem_of(Request(blocks=blocks, targets=targets))

    assert Proofs(problem).served_at_most(problem.sizes, Deadline(60_000)) == (1,)
    assert len(solve(blocks, targets).stacks) == 1


@pytest.mark.parametrize(
    ("blocks", "targets"),
    [
        ("1.001 1.002 1 1 1 2 2 2 3 3 4 4", "5.003 6.003"),
        ("1.001 1.001 1.002 1.003 1 2 3 5 5 10", "5.002 6.003 7.001 9.004"),
        ("1.0005 1.001 1.002 1.002 1.01 1.02 2 5 10", "5.0005 6.003 7.0025 12.031"),
    ],
)
def test_patterns_are_packed_as_well_as_can_be(blocks: str, targets: str) -> None:
    """As many side by side as when every choice is tried; all of them together likewise."""
    problem = plain(blocks, targets)
    numbers = range(len(problem.demands))
    found = each_step(problem)

    assert found
    for fine in found:
        for demands in (d for size in numbers for d in combinations(numbers, size + 1)):
            most = most_packed(problem, fine, demands)
            assert fine.packed(demands, Deadline(60_000)) == most
            assert fine.together(demands) == (most == len(demands))


def check_stack(problem: Problem, demand: int, stack: Mask, taken: Mask) -> None:
    """Of free pieces, of the length that is wanted, with the wear blocks, and not too many."""
    wanted = problem.demands[demand]
    chosen = [k for k in range(len(problem.pieces)) if stack >> k & 1]
    pieces = [problem.pieces[k] for k in chosen]

    assert chosen
    assert not stack & taken
    assert wanted.low <= sum(piece.nominal for piece in pieces) <= wanted.high
    assert len(pieces) <= wanted.most
    assert sum(piece.wear for piece in pieces) == wanted.wear
    assert wanted.allows(error_of(problem, demand, chosen))


@given(requests(max_blocks=12), st.integers(min_value=0, max_value=2**12 - 1))
def test_a_stack_that_is_built_serves_its_demand(request_: Request, taken: int) -> None:
    """Whatever is taken already, it is made of the rest."""
    problem = problem_of(request_)
    builder = Builder(problem)

    for demand in range(len(problem.demands)):
        stack = builder.stack(demand, taken, ample())
        if stack:
            check_stack(problem, demand, stack, taken)


def test_stacks_with_wear_blocks_are_read_from_tables() -> None:
    """With free ones of any length, none where these are taken; of many lengths they are not."""
    worn = make_blocks("0.05 0.05 0.1", unit="in", role="wear")
    targets = (
        LengthTarget(ref="one", length=inch("1.2345"), wear_blocks="one"),
        LengthTarget(ref="both", length=inch("0.8123"), wear_blocks="both"),
        LengthTarget(ref="alone", length=inch("0.15"), wear_blocks="both"),
    )
    problem = problem_of(Request(blocks=(*worn, *INCH_81), targets=targets))
    builder = Builder(problem)
    few_choices = Builder(problem, Tuning(most_choices_of_ends=3))

    assert [few_choices.reads(demand) for demand in range(3)] == [True, False, False]
    for demand in range(3):
        check_stack(problem, demand, builder.stack(demand, 0, ample(), quick=True), 0)
        check_stack(problem, demand, builder.stack(demand, 0b001, ample(), quick=True), 0b001)
        check_stack(problem, demand, few_choices.stack(demand, 0b001, ample()), 0b001)
        assert not builder.stack(demand, 0b111, ample(), quick=True)


def test_tables_of_one_unit_alone_are_not_those_of_the_shelf() -> None:
    """Metric lengths in hundredths of a nanometre are too fine for tables; inch ones are not."""
    fine = [Block(id=f"m{n}", nominal=mm("9") + 7 * n, limit_deviation=0) for n in range(30)]
    targets = make_targets("2.1234 60", unit="in")
    mixed = Builder(problem_of(Request(blocks=(*INCH_81, *fine), targets=targets)))
    inch_alone = Builder(problem_of(Request(blocks=INCH_81, targets=targets)))
    fine_alone = Builder(problem_of(Request(blocks=tuple(fine), targets=targets)))

    assert (inch_alone.quick, inch_alone.whole) == (True, True)
    assert (mixed.quick, mixed.whole) == (True, False)
    assert (fine_alone.quick, fine_alone.whole) == (False, False)


def test_plans_that_come_to_be_known_are_plans() -> None:
    """No two of their stacks share a piece, and each serves its demand."""
    problem = problem_of(Request(blocks=INCH_81, targets=make_targets(TWELVE, unit="in")))
    standing = Standing(problem, (None,) * 12)

    for demands in combinations(range(12), 3):
        assert standing.verdict(demands, ample()) == "found"
        plan = next(each for each in standing.plans if all(each[k] for k in demands))
        for demand, stack in enumerate(plan):
            others = sum(mask for k, mask in enumerate(plan) if k != demand)
            if stack:
                check_stack(problem, demand, stack, others)


def test_a_conflict_smaller_than_the_one_that_is_counted_is_found() -> None:
    """Six want one of five fine blocks, but three of them already want the two ways to 90."""
    blocks = make_blocks("1.001 1.001 1.001 1.001 1.001 90 50 40 1 2 3 7 7 8")
    targets = make_targets("91.001 91.001 91.001 2.001 3.001 4.001")

    shortage = solve(blocks, targets).shortage

    assert shortage is not None
    assert shortage.smallest_conflict_proven
    assert tuple(map(str, shortage.conflict)) == ("t0", "t1", "t2")


def test_a_conflict_of_many_is_proven_to_be_smallest() -> None:
    """Five fine blocks serve any five of seven targets, and no six."""
    blocks = make_blocks("1.001 1.001 1.001 1.001 1.001 1 1 2 2 3 3 4 4 5 5 6 6 7 7")
    targets = make_targets("3.001 4.001 5.001 6.001 7.001 8.001 9.001")

    shortage = solve(blocks, targets).shortage

    assert shortage is not None
    assert shortage.smallest_conflict_proven
    assert len(shortage.conflict) == 6
