"""More urgent targets first: what is served, what is proven, and who holds the blocks."""

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from solver.oracle import best, by_priority, frontier
from solver.problems import problem_of
from wrung import (
    Answer,
    Bounds,
    InputError,
    LengthTarget,
    Objective,
    ServedBound,
    Tolerance,
    mm,
    solve,
    trade_off,
    um,
    verify,
    verify_trade_off,
    without_claims,
)
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.candidates.stock import by_nominal
from wrung.planning.candidates.workbench import set_up
from wrung.planning.engine import search
from wrung.planning.objectives.serving import own_caps
from wrung.planning.problem import build_problem
from wrung.planning.selection.scarcity import pack
from wrung.targets import AngleBlocksTarget, LimitsTarget
from wrung.testing import Request, make_blocks, requests
from wrung.tuning import Tuning

SHELF = make_blocks("1.001 1.003 1 2 3 4 5")
"""One block of each thousandth: a stack that ends in four takes both."""
OBJECTIVES: tuple[Objective, ...] = ("fewest_blocks", "least_error")


def wanted(lengths: str, *priorities: int | None) -> list[LengthTarget]:
    pairs = zip(lengths.split(), priorities, strict=True)
    return [
        LengthTarget(ref=f"t{k}", length=mm(text), priority=priority)
        for k, (text, priority) in enumerate(pairs)
    ]


def answered(targets: list[LengthTarget], objective: Objective = "fewest_blocks") -> Answer:
    answer = solve(SHELF, targets, joint_allowance=0, objective=objective)
    assert verify(SHELF, targets, answer, joint_allowance=0, objective=objective) == ()
    return answer


def served(answer: Answer) -> list[str]:
    return [stack.target for stack in answer.stacks]


@pytest.mark.parametrize("objective", OBJECTIVES)
def test_one_urgent_stack_goes_before_any_number_of_others(objective: Objective) -> None:
    """2.004 takes both thousandths, which two others would have used."""
    assert served(answered(wanted("3.001 4.003 2.004", 2, 2, 2), objective)) == ["t0", "t1"]
    answer = answered(wanted("3.001 4.003 2.004", 2, 2, 1), objective)

    assert served(answer) == ["t2"]
    assert (answer.outcome, answer.proven, answer.objective_proven) == ("partial", True, True)
    assert answer.bounds.by_priority == (
        ServedBound(priority=1, served=1),
        ServedBound(priority=2, served=0),
    )
    assert answer.bounds.served == 1


def test_without_a_priority_a_target_is_the_least_urgent() -> None:
    answer = answered(wanted("3.001 4.001 5.001", None, 9, 99))

    assert served(answer) == ["t1"]
    assert [each.priority for each in answer.bounds.by_priority] == [9, 99, None]


def test_an_unmet_target_says_which_priority_holds_the_blocks() -> None:
    """3.001 could have the block of 4.001 if only that one were given up, not that of 5.003."""
    answer = answered(wanted("3.001 4.001 5.003", 3, 2, 3))
    (unmet,) = answer.unmet

    assert (unmet.target, unmet.held_by_priority, unmet.held_by) == ("t0", 2, ("t1",))


def test_nothing_is_said_of_priorities_where_there_are_none() -> None:
    answer = answered(wanted("3.001 4.001", None, None))

    assert answer.bounds == Bounds(
        served=1, total_blocks=2, largest_worst_case_error=40000, total_worst_case_error=40000
    )
    assert [(each.held_by, each.held_by_priority) for each in answer.unmet] == [((), None)]


def test_every_stack_of_a_target_has_its_priority() -> None:
    target = LimitsTarget(ref="slot", lower=mm("3.001"), upper=mm("4.003"), priority=4)
    assert {each.priority for each in target.requirements()} == {4}


def test_angle_blocks_go_by_priority_too() -> None:
    """Both angles want the only block of 41 degrees."""
    targets = [
        AngleBlocksTarget(
            ref=name,
            composition="angle-13",
            angle=41 * 3600 * 10**9,
            max_blocks=1,
            priority=priority,
        )
        for name, priority in (("a", 5), ("b", 1))
    ]
    answer = solve((), targets)
    (case,) = answer.cases

    assert verify((), targets, answer) == ()
    assert case.plan.bounds.by_priority[0] == ServedBound(priority=1, served=1)
    assert [stack.target for stack in case.plan.stacks] == ["b"]
    assert [(u.held_by, u.held_by_priority) for u in case.plan.unmet] == [(("b",), 1)]


def test_priorities_are_whole_numbers_from_one() -> None:
    with pytest.raises(InputError) as refused:
        solve(SHELF, wanted("3.001", 0))
    assert [fault.pointer for fault in refused.value.faults] == ["/targets/0/priority"]


@given(requests(max_blocks=7, max_targets=3))
def test_a_trade_off_serves_the_same_of_each_priority(request: Request) -> None:
    answer = solve(request.blocks, request.targets, joint_allowance=0)
    found = trade_off(request.blocks, request.targets, answer, joint_allowance=0)
    points = frontier(request.blocks, [r for t in request.targets for r in t.requirements()])

    assert [
        (p.total_blocks, p.largest_worst_case_error, p.total_worst_case_error) for p in found.points
    ] == points
    assert verify_trade_off(request.blocks, request.targets, answer, found, joint_allowance=0) == ()


class TestChecker:
    """A claim about priorities that does not hold is refused, and stripped claims hold."""

    TARGETS = wanted("3.001 4.003 2.004 5", 2, 2, 1, None)

    def breaches(self, answer: Answer) -> set[str]:
        return {each.rule for each in verify(SHELF, self.TARGETS, answer, joint_allowance=0)}

    @pytest.mark.parametrize(
        "said",
        [
            ((1, 1), (2, 0)),
            ((2, 0), (1, 1), (None, 1)),
            ((1, 0), (2, 0), (None, 1)),
            ((1, 1), (2, 3), (None, 1)),
            ((1, None), (2, 0), (None, 1)),
            ((1, 1), (2, 1), (None, None)),
            (),
        ],
    )
    def test_bounds(self, said: tuple[tuple[int | None, int | None], ...]) -> None:
        answer = answered(self.TARGETS)
        bounds = tuple(ServedBound(priority=p, served=n) for p, n in said)
        changed = replace(answer, bounds=replace(answer.bounds, by_priority=bounds))
        assert "priorities" in self.breaches(changed)

    def test_holders(self) -> None:
        answer = answered(self.TARGETS)
        for changed in (
            {"held_by": ("t3",), "held_by_priority": None},
            {"held_by": ("t2",), "held_by_priority": 2},
            {"held_by": (), "held_by_priority": 1},
        ):
            unmet = tuple(replace(each, **changed) for each in answer.unmet)
            assert self.breaches(replace(answer, unmet=unmet)) == {"holders"}

    def test_without_claims(self) -> None:
        stripped = without_claims(answered(self.TARGETS))
        assert {each.served for each in stripped.bounds.by_priority} == {None}
        assert self.breaches(stripped) == set()


@settings(max_examples=60)
@given(requests(max_blocks=8, max_targets=3))
def test_answers_serve_as_many_of_each_priority_as_trying_everything(request: Request) -> None:
    """Whatever the options; the proofs hold engines to it, this the answer."""
    usable = [
        block
        for block in request.blocks
        if block.id not in request.exclude and (request.only is None or block.id in request.only)
    ]
    requirements = [r for target in request.targets for r in target.requirements()]
    answer = solve(
        request.blocks,
        request.targets,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )
    names = {stack.name for stack in answer.stacks}
    reached = by_priority(requirements, [each.name in names for each in requirements])

    assert answer.proven or answer.outcome == "feasible"
    assert reached == best(usable, requirements).by_priority


@given(request=requests(max_blocks=8, max_targets=4))
def test_scarce_pieces_allow_no_fewer_than_can_be_served(request: Request) -> None:
    """Class by class, and no more where a lower number is known."""
    problem, deadline = problem_of(request), Deadline(60_000)
    bench = set_up(problem, by_nominal(problem), deadline)
    if bench is None:
        return
    most = pack(bench, own_caps(bench), deadline)
    usable = [piece.block for piece in problem.pieces]
    reached = best(usable, [demand.requirement for demand in problem.demands]).by_priority

    assert most >= reached
    assert pack(bench, own_caps(bench), deadline, reached) == reached


@pytest.mark.parametrize("listed", [0, 1_000])
def test_an_urgent_stack_that_is_left_out_leaves_room_for_others(listed: int) -> None:
    """Fine pieces serve both urgent ones, whole stacks one of them and another target.

    Whether or not all goals are settled among all stacks.
    """
    wide = Tolerance(lower=-um("1"), upper=um("1"))
    targets = [
        LengthTarget(ref="t0", length=mm("3.55"), tolerance=wide, max_blocks=3),
        LengthTarget(ref="t1", length=mm("2.039"), tolerance=wide),
        LengthTarget(ref="t2", length=mm("4.031"), max_blocks=3, priority=1),
        LengthTarget(ref="t3", length=mm("5.032"), tolerance=wide, priority=1),
    ]
    blocks = make_blocks("1.0005 1.001 1.002 1.003 1.005 1.01 1.02 1.03 1.5 2 3 5")
    problem = build_problem(
        Order(blocks=blocks, targets=targets, objective="least_error", joint_allowance=0)
    )

    found = search(problem, Deadline(60_000, tuning=Tuning(few_candidates=listed)))

    assert found is not None
    assert found.served_proven
    assert found.totals.served == (1, 1)
