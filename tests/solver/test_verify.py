"""The checker finds every kind of tampering, and nothing to blame in an honest answer."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from msgspec.structs import replace

from wrung import (
    Answer,
    Block,
    Bounds,
    Breach,
    LengthTarget,
    Nearest,
    PlacedBlock,
    Shortage,
    Stack,
    Tolerance,
    Unmet,
    Wanted,
    mm,
    solve,
    um,
    verify,
    without_claims,
)
from wrung.metrology import ErrorMeasure, planning_costs
from wrung.stack_names import StackName
from wrung.testing import SHIFT, Request, make_blocks, make_targets

HOUR = timedelta(hours=1)
JOINT = um("0.02")

SHELF = (
    *make_blocks("1 1.001 1.002 1.01 2 5 10 0.5"),
    *make_blocks("2 2", role="wear"),
    Block(
        id="c0", nominal=mm("3"), deviation=um("-0.12"), expanded_uncertainty=um("0.05"), unit="mm"
    ),
)
REQUEST = Request(
    blocks=SHELF,
    targets=(
        LengthTarget(ref="worn", length=mm("11"), wear_blocks="both", max_blocks=4),
        LengthTarget(
            ref="certified",
            length=mm("5.0015"),
            tolerance=Tolerance(lower=um("-0.5"), upper=um("0.5")),
        ),
        LengthTarget(ref="early", length=mm("10.5"), needed_until=SHIFT),
        LengthTarget(ref="late", length=mm("10.5"), needed_from=SHIFT),
        LengthTarget(ref="unbuildable", length=mm("0.7")),
    ),
    joint_allowance=JOINT,
)


def rules(request: Request, answer: Answer) -> set[str]:
    """Names of the rules that the answer breaks."""
    return {breach.rule for breach in breaches(request, answer)}


def breaches(request: Request, answer: Answer) -> tuple[Breach, ...]:
    return verify(
        request.blocks,
        request.targets,
        answer,
        objective=request.objective,
        joint_allowance=request.joint_allowance,
        exclude=request.exclude,
        only=request.only,
    )


@pytest.fixture(name="honest", scope="module")
def _honest() -> Answer:
    """Four stacks and one target out of reach."""
    return solve(REQUEST.blocks, REQUEST.targets, joint_allowance=JOINT, time_limit_ms=60_000)


def test_an_honest_answer_breaks_no_rule(honest: Answer) -> None:
    """The answer that the mutants below start from is right, and has all that they touch."""
    assert rules(REQUEST, honest) == set()
    assert [stack.target for stack in honest.stacks] == ["worn", "certified", "early", "late"]
    assert honest.outcome == "partial"
    assert honest.shortage is not None
    assert honest.unmet[0].nearest_above is not None


def stack(answer: Answer, ref: str, change: Callable[[Stack], Stack]) -> Answer:
    """The answer with one stack changed."""
    stacks = tuple(change(s) if s.target == ref else s for s in answer.stacks)
    return replace(answer, stacks=stacks)


def named(*targets: str) -> tuple[StackName, ...]:
    """The names of the stacks of targets that have one each."""
    return tuple(StackName(target=target) for target in targets)


def swapped(blocks: tuple[PlacedBlock, ...], one: int, other: int) -> tuple[PlacedBlock, ...]:
    """The blocks with two places exchanged."""
    order = list(range(len(blocks)))
    order[one], order[other] = order[other], order[one]
    return tuple(blocks[place] for place in order)


def bounds(answer: Answer, **figures: int | None) -> Answer:
    """The answer with other bounds."""
    return replace(answer, bounds=replace(answer.bounds, **figures))


MUTANTS: dict[str, tuple[str, Callable[[Answer], Answer]]] = {
    "a stack is left out": ("refs", lambda a: replace(a, stacks=a.stacks[1:])),
    "a stack is given twice": ("refs", lambda a: replace(a, stacks=a.stacks[:1] + a.stacks)),
    "stacks stand in another order": ("refs", lambda a: replace(a, stacks=a.stacks[::-1])),
    "a target is renamed": ("refs", lambda a: stack(a, "worn", lambda s: replace(s, target="x"))),
    "an unmet target is left out": ("refs", lambda a: replace(a, unmet=())),
    "a served target is called unmet": (
        "refs",
        lambda a: replace(a, unmet=(Unmet(target="worn", reason="not_decided"), *a.unmet)),
    ),
    "another length is said to be wanted": (
        "lengths",
        lambda a: stack(a, "worn", lambda s: replace(s, length=s.length + 1)),
    ),
    "a block that nobody has": (
        "shelf",
        lambda a: stack(
            a, "worn", lambda s: replace(s, blocks=(replace(s.blocks[0], id="x"), *s.blocks[1:]))
        ),
    ),
    "a block is said to be longer": (
        "shelf",
        lambda a: stack(
            a, "worn", lambda s: replace(s, blocks=(replace(s.blocks[0], nominal=1), *s.blocks[1:]))
        ),
    ),
    "a wear block is called a gauge block": (
        "shelf",
        lambda a: stack(
            a,
            "worn",
            lambda s: replace(s, blocks=(*s.blocks[:-1], replace(s.blocks[-1], role="gauge"))),
        ),
    ),
    "a block stands twice in a stack": (
        "used once",
        lambda a: stack(a, "early", lambda s: replace(s, blocks=s.blocks + s.blocks[-1:])),
    ),
    "a block stands in two stacks at one time": (
        "used once",
        lambda a: stack(a, "early", lambda s: replace(s, blocks=s.blocks + a.stacks[0].blocks[:1])),
    ),
    "the nominal length is not the sum": (
        "nominal sums",
        lambda a: stack(a, "worn", lambda s: replace(s, nominal=s.nominal + 1)),
    ),
    "a block is missing": (
        "tolerances",
        lambda a: stack(a, "early", lambda s: replace(s, blocks=s.blocks[1:])),
    ),
    "a joint is not counted": (
        "counts",
        lambda a: stack(a, "early", lambda s: replace(s, joints=s.joints - 1)),
    ),
    "a stack has no block": (
        "counts",
        lambda a: stack(a, "early", lambda s: replace(s, blocks=())),
    ),
    "a stack has too many blocks": (
        "counts",
        lambda a: stack(
            a,
            "worn",
            lambda s: replace(s, blocks=s.blocks + a.stacks[1].blocks + a.stacks[2].blocks),
        ),
    ),
    "a wear block is left out": (
        "wear blocks",
        lambda a: stack(a, "worn", lambda s: replace(s, blocks=s.blocks[:-1])),
    ),
    "a wear block is the base": (
        "wear blocks",
        lambda a: stack(a, "worn", lambda s: replace(s, blocks=swapped(s.blocks, 0, -1))),
    ),
    "a wear block stands inside": (
        "wear blocks",
        lambda a: stack(a, "worn", lambda s: replace(s, blocks=swapped(s.blocks, 1, -1))),
    ),
    "a thick block stands on a thin one": (
        "wringing order",
        lambda a: stack(a, "early", lambda s: replace(s, blocks=s.blocks[::-1])),
    ),
    "the deviation is not the sum": (
        "deviations",
        lambda a: stack(a, "certified", lambda s: replace(s, deviation=-s.deviation)),
    ),
    "the worst-case error is understated": (
        "worst-case errors",
        lambda a: stack(a, "late", lambda s: replace(s, worst_case_error=s.worst_case_error - 1)),
    ),
    "blocks are not counted": ("totals", lambda a: replace(a, total_blocks=a.total_blocks - 1)),
    "the largest error is understated": (
        "totals",
        lambda a: replace(a, largest_worst_case_error=a.largest_worst_case_error - 1),
    ),
    "the total error is understated": (
        "totals",
        lambda a: replace(a, total_worst_case_error=a.total_worst_case_error - 1),
    ),
    "another objective": ("objective", lambda a: replace(a, objective="least_error")),
    "partial called optimal": ("outcome", lambda a: replace(a, outcome="optimal")),
    "partial called feasible": ("outcome", lambda a: replace(a, outcome="feasible")),
    "partial called infeasible": ("outcome", lambda a: replace(a, outcome="infeasible")),
    "partial called unknown": ("outcome", lambda a: replace(a, outcome="unknown")),
    "proven without a proof of the number": ("outcome", lambda a: replace(a, proven=False)),
    "more could be served": ("served bound", lambda a: bounds(a, served=5)),
    "more is served than possible": ("served bound", lambda a: bounds(a, served=3)),
    "more could be served than was asked": ("served bound", lambda a: bounds(a, served=6)),
    "fewer blocks would do": (
        "objective bounds",
        lambda a: bounds(a, total_blocks=a.total_blocks - 1),
    ),
    "fewer blocks than possible": (
        "objective bounds",
        lambda a: bounds(a, total_blocks=a.total_blocks + 1),
    ),
    "proven without a bound": (
        "objective bounds",
        lambda a: bounds(a, total_worst_case_error=None),
    ),
    "a bound after one that is open": (
        "objective bounds",
        lambda a: replace(bounds(a, largest_worst_case_error=None), objective_proven=False),
    ),
    "a nearest length of other blocks": (
        "nearest lengths",
        lambda a: replace(
            a, unmet=(replace(a.unmet[0], nearest_above=Nearest(length=mm("1"), blocks=("b1",))),)
        ),
    ),
    "a nearest length on the wrong side": (
        "nearest lengths",
        lambda a: replace(
            a, unmet=(replace(a.unmet[0], nearest_above=Nearest(length=mm("0.5"), blocks=("b7",))),)
        ),
    ),
    "a nearest length of blocks in use": (
        "nearest lengths",
        lambda a: replace(
            a,
            unmet=(
                Unmet(
                    target="unbuildable",
                    reason="blocks_in_use",
                    nearest_above=Nearest(length=mm("10"), blocks=("b6",)),
                ),
            ),
        ),
    ),
    "a nearest length of nothing decided": (
        "nearest lengths",
        lambda a: replace(a, unmet=(replace(a.unmet[0], reason="not_decided"),)),
    ),
    "a conflict of served targets": (
        "shortage",
        lambda a: replace(
            a, shortage=Shortage(conflict=named("worn", "early"), smallest_conflict_proven=True)
        ),
    ),
    "a conflict of unknown targets": (
        "shortage",
        lambda a: replace(
            a, shortage=Shortage(conflict=named("x", "unbuildable"), smallest_conflict_proven=True)
        ),
    ),
    "a served target that is not helped": (
        "shortage",
        lambda a: replace(
            a,
            shortage=Shortage(
                conflict=named("unbuildable"),
                smallest_conflict_proven=True,
                not_helped=named("early"),
            ),
        ),
    ),
    "a block to add without length": (
        "shortage",
        lambda a: replace(
            a,
            shortage=Shortage(
                conflict=named("unbuildable"),
                smallest_conflict_proven=True,
                blocks_to_add=(Wanted(nominal=0),),
            ),
        ),
    ),
}


@pytest.mark.parametrize(("rule", "mutate"), MUTANTS.values(), ids=MUTANTS.keys())
def test_tampering_is_found(honest: Answer, rule: str, mutate: Callable[[Answer], Answer]) -> None:
    """Each mutant breaks at least the rule it is made to break."""
    mutant = mutate(honest)

    assert mutant != honest
    assert rule in rules(REQUEST, mutant)


CLAIMS = {"outcome", "served bound", "objective bounds", "nearest lengths", "shortage"}


@pytest.mark.parametrize(("rule", "mutate"), MUTANTS.values(), ids=MUTANTS.keys())
def test_without_claims_an_answer_holds_unless_a_stack_is_wrong(
    honest: Answer, rule: str, mutate: Callable[[Answer], Answer]
) -> None:
    """A breach says whether it is about a claim; only such are cured by claiming nothing."""
    mutant = mutate(honest)

    assert {breach.claim for breach in breaches(REQUEST, mutant) if breach.rule == rule} == {
        rule in CLAIMS
    }
    assert (rules(REQUEST, without_claims(mutant)) == set()) == (rule in CLAIMS)
    assert without_claims(mutant).stacks == mutant.stacks


def test_a_block_left_out_by_the_request_may_not_be_used(honest: Answer) -> None:
    """The same answer is wrong where its blocks are excluded or not among the allowed ones."""
    used = honest.stacks[0].blocks[0].id

    assert "shelf" in rules(replace(REQUEST, exclude=(used,)), honest)
    assert "shelf" in rules(replace(REQUEST, only=("b0",)), honest)


def test_blocks_may_be_shared_only_by_stacks_that_are_not_needed_at_one_time(
    honest: Answer,
) -> None:
    """The early and the late stack share blocks; needed at one time they must not."""
    early, late = honest.stacks[2:]
    always = tuple(replace(t, needed_from=None, needed_until=None) for t in REQUEST.targets)

    assert {b.id for b in early.blocks} == {b.id for b in late.blocks}
    assert "used once" in rules(replace(REQUEST, targets=always), honest)


def test_an_end_that_is_another_start_is_no_overlap(honest: Answer) -> None:
    """A block may go from one stack straight to the next, but not a moment too early."""
    targets = tuple(
        replace(t, needed_from=SHIFT - timedelta(microseconds=1)) if t.ref == "late" else t
        for t in REQUEST.targets
    )

    assert "used once" in rules(replace(REQUEST, targets=targets), honest)


def test_another_joint_allowance_makes_other_errors(honest: Answer) -> None:
    """The checker uses the allowance that it is given, not the one of the answer."""
    assert "worst-case errors" in rules(replace(REQUEST, joint_allowance=JOINT + 1), honest)


def test_the_checker_works_out_variances_by_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """A planner to whom blocks cost nothing is found out."""
    measure = ErrorMeasure(kind="expanded_uncertainty", corrected=True)
    monkeypatch.setattr(planning_costs, "block_rows", lambda *_: ())
    targets = make_targets("3 6")
    answer = solve(SHELF, targets, joint_allowance=JOINT, error_measure=measure)

    found = verify(SHELF, targets, answer, joint_allowance=JOINT, error_measure=measure)

    assert "compared" in {breach.rule for breach in found}


def test_an_infeasible_answer_with_bounds_holds() -> None:
    """Nothing is served, nothing can be, and nothing is counted."""
    targets = (LengthTarget(ref="t", length=mm("0.7")),)
    answer = solve(SHELF, targets, joint_allowance=JOINT)

    assert answer.outcome == "infeasible"
    assert rules(Request(blocks=SHELF, targets=targets, joint_allowance=JOINT), answer) == set()
    assert answer.bounds == Bounds(
        served=0, total_blocks=0, largest_worst_case_error=0, total_worst_case_error=0
    )
