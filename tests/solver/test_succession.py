"""Stacks that follow one another change as few blocks as can be, and give up nothing for it."""

import os
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle
from wrung import (
    Answer,
    Block,
    BlockChanges,
    GaugeSet,
    LengthTarget,
    Objective,
    Requirement,
    mm,
    solve,
    verify,
    without_claims,
)
from wrung.blocks import margin
from wrung.deadline import Cancel, Deadline
from wrung.handwork.changes import changes
from wrung.order import Order
from wrung.planning.engines import ask
from wrung.planning.finding import Plan, totals
from wrung.planning.problem import Problem, build_problem
from wrung.planning.succession.counting import Changes, successions
from wrung.planning.succession.settling import settled
from wrung.targets import CheckPointsTarget, Target, Turn
from wrung.testing import Request, make_blocks, requests

CASES: Final = int(os.environ.get("WRUNG_SUCCESSION_CASES", "150"))
AMPLE_MS: Final = 60_000


class InTurn(LengthTarget, frozen=True, kw_only=True):
    """Stacks one after another; its own length plays no part."""

    length: int = 1
    parts: tuple[Requirement, ...]

    def requirements(self) -> tuple[Requirement, ...]:
        return tuple(
            replace(part, turn=Turn(of=self.ref, step=(k,))) for k, part in enumerate(self.parts)
        )


def in_turn(targets: Sequence[LengthTarget], ref: str, *, same_time: bool) -> InTurn:
    """Those targets as one sequence, at the times of the first, or each at its own."""
    parts = [part for target in targets for part in target.requirements()]
    if same_time:
        first = parts[0]
        times = {"needed_from": first.needed_from, "needed_until": first.needed_until}
        parts = [replace(part, **times) for part in parts]
    return InTurn(ref=ref, parts=tuple(parts))


@st.composite
def sequences(draw: st.DrawFn) -> tuple[Request, tuple[Target, ...]]:
    """A request, and its targets with some of them in one or two sequences."""
    request = draw(requests(max_blocks=8, max_targets=4))
    split = draw(st.integers(1, len(request.targets)))
    same_time = draw(st.sampled_from((True, True, True, False)))
    turns: list[Target] = [in_turn(request.targets[:split], "s", same_time=same_time)]
    rest = request.targets[split:]
    if len(rest) > 1 and draw(st.booleans()):
        return request, (*turns, in_turn(rest, "r", same_time=same_time))
    return request, (*turns, *rest)


def answer_of(request: Request, targets: Sequence[Target]) -> Answer:
    return solve(
        request.blocks,
        targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
        time_limit_ms=AMPLE_MS,
    )


def usable(request: Request) -> list[Block]:
    return [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]


@settings(max_examples=CASES)
@given(sequences())
def test_no_plan_that_is_as_good_changes_fewer(drawn: tuple[Request, tuple[Target, ...]]) -> None:
    """Against the exhaustive search: totals first, then the changes between served stacks."""
    request, targets = drawn
    answer = answer_of(request, targets)
    required = [each for target in targets for each in target.requirements()]
    found = oracle.best(
        usable(request),
        required,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
    )

    assert answer.objective_proven
    assert len(answer.stacks) == found.served
    assert answer.total_blocks == found.total_blocks
    assert answer.largest_worst_case_error == found.largest_error
    assert answer.total_worst_case_error == found.total_error
    if answer.changes is not None:
        least = oracle.least_changes(
            usable(request),
            required,
            [stack.name for stack in answer.stacks],
            objective=request.objective,
            joint_allowance=request.joint_allowance,
        )
        assert answer.changes.block_changes == least
        assert answer.changes.proven


def changed_blocks(problem: Problem, plan: Plan) -> int:
    return Changes(problem=problem, pairs=successions(problem, plan)).of(plan)


def check_answer(blocks: Sequence[Block], targets: Sequence[Target]) -> Answer:
    answer = solve(blocks, targets, time_limit_ms=AMPLE_MS)
    assert verify(blocks, targets, answer) == ()
    return answer


def micrometer_shelf() -> tuple[Block, ...]:
    """Two sets of one bench, unlike in what they hold."""
    large = GaugeSet(id="large", composition="metric-87-a", grade="1")
    small = GaugeSet(id="small", composition="metric-47-a", grade="1")
    return (*large.blocks(), *small.blocks())


@settings(max_examples=CASES // 3)
@given(sequences())
def test_the_checker_confirms_what_is_said_of_changes(
    drawn: tuple[Request, tuple[Target, ...]],
) -> None:
    request, targets = drawn
    breaches = verify(
        request.blocks,
        targets,
        answer_of(request, targets),
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )

    assert breaches == ()


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_a_micrometer_changes_fewer_blocks_than_the_search_alone_would(
    objective: Objective,
) -> None:
    target = CheckPointsTarget(ref="m", series="metric-0.5", range_from=mm("25"))
    problem = build_problem(
        Order(blocks=micrometer_shelf(), targets=[target], objective=objective, joint_allowance=0)
    )
    (asked,) = (ask(problem, Deadline(AMPLE_MS)).plan,)
    assert asked is not None

    found = settled(problem, asked, Deadline(AMPLE_MS), best=False)

    assert found.changes is not None
    assert totals(problem, found.plan) == totals(problem, asked)
    assert found.changes.proven
    assert found.changes.block_changes < changed_blocks(problem, asked)


def stacks_of_up_to_three(blocks: Sequence[Block], length: int) -> Iterator[frozenset[int]]:
    """By their lengths, every stack of up to three blocks."""
    place = {block.nominal: at for at, block in enumerate(blocks)}
    for at, block in enumerate(blocks):
        if block.nominal == length:
            yield frozenset((at,))
    for count in (1, 2):
        for chosen in combinations(range(len(blocks)), count):
            last = place.get(length - sum(blocks[at].nominal for at in chosen))
            if last is not None and last not in chosen:
                yield frozenset((*chosen, last))


def best_alone(blocks: Sequence[Block], length: int) -> set[frozenset[int]]:
    """Of those, the ones with the fewest blocks and among them the smallest error."""

    def value(stack: frozenset[int]) -> tuple[int, int]:
        return len(stack), sum(margin(blocks[at]) for at in stack)

    stacks = set(stacks_of_up_to_three(blocks, length))
    least = min(map(value, stacks))
    return {stack for stack in stacks if value(stack) == least}


def test_a_micrometer_changes_as_few_as_the_shortest_way_through_all_stacks() -> None:
    """Plain enumeration of one set, and Dijkstra's idea over the points, with sets of blocks."""
    blocks = GaugeSet(id="s", composition="metric-87-a", grade="1").blocks()
    target = CheckPointsTarget(ref="m", series="metric-0.5")
    answer = solve(blocks, [target], joint_allowance=0)

    ways: dict[frozenset[int], int] | None = None
    for wanted in target.requirements():
        before = ways
        ways = {
            stack: min(cost + len(stack ^ last) for last, cost in before.items()) if before else 0
            for stack in best_alone(blocks, wanted.length)
        }

    assert ways is not None
    assert answer.changes is not None
    assert (answer.changes.block_changes, answer.changes.proven) == (min(ways.values()), True)


def test_of_alike_blocks_the_one_in_hand_stays() -> None:
    """Another stack holds the first of two alike blocks; the points keep to the second."""
    blocks = make_blocks("10 10 1.1 1.2 1.3 30")
    points = CheckPointsTarget(ref="m", points=(mm("11.1"), mm("11.2"), mm("11.3")))
    beside = LengthTarget(ref="x", length=mm("40"))

    answer = check_answer(blocks, [beside, points])

    assert answer.changes is not None
    assert (answer.changes.block_changes, answer.changes.proven) == (4, True)


def test_a_stack_is_not_made_worse_to_keep_a_block() -> None:
    """12 mm as one block is fewer blocks than 10 + 2, which would keep the 10."""
    answer = check_answer(
        make_blocks("10 2 1 12"), [CheckPointsTarget(ref="m", points=(mm("11"), mm("12")))]
    )

    assert answer.total_blocks == 3
    assert answer.changes is not None
    assert answer.changes.block_changes == 3


def test_points_without_a_stack_are_passed_over() -> None:
    points = tuple(map(mm, ("11.1", "17.5", "11.2")))
    answer = check_answer(make_blocks("10 1.1 1.2"), [CheckPointsTarget(ref="m", points=points)])

    assert [unmet.role for unmet in answer.unmet] == ["point_2"]
    assert answer.changes is not None
    assert (answer.changes.block_changes, answer.changes.proven) == (2, True)


def test_lengths_without_a_common_step_change_little_as_well() -> None:
    """Inch and metric blocks together are beyond the tables of the quick search."""
    shelf = (
        *GaugeSet(id="i", composition="inch-36", grade="AS-1").blocks(),
        *make_blocks("2.00001 3.00007 1.5 25"),
    )
    points = tuple(map(mm, ("27.00001", "28.00007", "30.00008")))

    answer = check_answer(shelf, [CheckPointsTarget(ref="m", points=points)])

    assert answer.outcome == "optimal"
    assert answer.changes is not None
    assert (answer.changes.block_changes, answer.changes.proven) == (3, True)


def test_what_is_said_is_what_the_instructions_count() -> None:
    target = CheckPointsTarget(ref="m", series="metric-0.5")
    answer = check_answer(micrometer_shelf(), [target])

    steps = [changes(one, other) for one, other in pairwise(answer.stacks)]
    assert answer.changes is not None
    assert answer.changes.block_changes == sum(len(s.added) + len(s.removed) for s in steps)


def test_stacks_that_do_not_follow_one_another_say_nothing_of_changes() -> None:
    one = CheckPointsTarget(ref="m", points=(mm("11"),))
    other = LengthTarget(ref="x", length=mm("12"))

    assert check_answer(make_blocks("10 2 1 12"), [one, other]).changes is None


def test_a_cancelled_search_claims_no_proof() -> None:
    cancel = Cancel()
    cancel.cancel()
    target = CheckPointsTarget(ref="m", series="metric-0.5")
    problem = build_problem(
        Order(
            blocks=micrometer_shelf(),
            targets=[target],
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    plan = ask(problem, Deadline(AMPLE_MS)).plan
    assert plan is not None

    found = settled(problem, plan, Deadline(AMPLE_MS, cancel), best=False)

    assert found.changes is not None
    assert not found.changes.proven
    assert found.changes.block_changes <= changed_blocks(problem, plan)


@pytest.mark.parametrize(
    ("said", "rule"),
    [
        (None, "changes"),
        (BlockChanges(block_changes=3, lower_bound=3), "changes"),
        (BlockChanges(block_changes=2, lower_bound=3), "changes bound"),
    ],
)
def test_the_checker_counts_changes_itself(said: BlockChanges | None, rule: str) -> None:
    blocks = make_blocks("10 1 2")
    targets = [CheckPointsTarget(ref="m", points=(mm("11"), mm("12")))]
    answer = check_answer(blocks, targets)

    wrong = replace(answer, changes=said)
    breaches = verify(blocks, targets, wrong)

    assert [breach.rule for breach in breaches] == [rule]
    assert (verify(blocks, targets, without_claims(wrong)) == ()) == breaches[0].claim
