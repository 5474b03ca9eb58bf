"""Plans for angle blocks: held to an exhaustive search, and never promising a block twice."""

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.angle_oracle import best_values
from wrung import (
    Answer,
    Bounds,
    InputError,
    LengthTarget,
    PlacedBlock,
    mm,
    solve,
    verify,
    without_claims,
)
from wrung.angle_blocks.compositions import angle_composition
from wrung.angles import DEGREE, MINUTE, SECOND, angle
from wrung.answers import Objective
from wrung.targets import AngleBlocksResult, AngleBlocksTarget, LimitsTarget, Target
from wrung.targets.angle_cases import angle_cases
from wrung.testing import make_blocks

MORNING = datetime(2026, 3, 2, 8, tzinfo=UTC)
NO_OFFSET = MORNING.replace(tzinfo=None)


def wanted(ref: str, text: str, composition: str = "angle-16") -> AngleBlocksTarget:
    return AngleBlocksTarget(ref=ref, angle=angle(text), composition=composition)


def found(answer: Answer, targets: Sequence[AngleBlocksTarget]) -> list[AngleBlocksResult]:
    """What an answer comes to for each target."""
    stacks, unmet = plan_of(answer).stacks, plan_of(answer).unmet
    return [target.results(stacks, unmet) for target in targets]


def plan_of(answer: Answer) -> Answer:
    (case,) = answer.cases
    return case.plan


@st.composite
def sharing(draw: st.DrawFn) -> list[AngleBlocksTarget]:
    """A few targets of one case that has 2 to 5 blocks left, their times perhaps apart."""
    composition = draw(st.sampled_from(("angle-13", "angle-16")))
    nominals = angle_composition(composition).nominals
    left = draw(st.sets(st.sampled_from(nominals), min_size=2, max_size=5))
    missing = tuple(nominal for nominal in nominals if nominal not in left)
    reach = sum(left)
    targets: list[AngleBlocksTarget] = []
    for index in range(draw(st.integers(1, 3))):
        signs = [draw(st.sampled_from((-1, 0, 1))) for _ in left]
        total = abs(sum(s * n for s, n in zip(signs, sorted(left), strict=True))) or SECOND
        start = draw(st.sampled_from((None, 0, 1)))
        targets.append(
            AngleBlocksTarget(
                ref=f"t{index}",
                angle=min(total + draw(st.sampled_from((0, 0, SECOND, MINUTE))), reach),
                composition=composition,
                missing=missing,
                max_angle_error=draw(st.sampled_from((0, 2 * SECOND, 20 * MINUTE))),
                max_blocks=draw(st.sampled_from((None, 1, 2, 3))),
                limit_deviation=SECOND // 2,
                needed_from=None if start is None else MORNING + timedelta(hours=start),
                needed_until=None if start is None else MORNING + timedelta(hours=start + 1),
            )
        )
    return targets


@settings(max_examples=60, deadline=None)
@given(sharing(), st.sampled_from(("fewest_blocks", "least_error")))
def test_no_plan_of_an_exhaustive_search_is_better(
    targets: list[AngleBlocksTarget], objective: Objective
) -> None:
    """Served, blocks and errors are those of the best of all signs of all blocks."""
    answer = solve((), targets, objective=objective, time_limit_ms=60_000)

    plan = plan_of(answer)
    blocks, largest = plan.total_blocks, plan.largest_worst_case_error
    errors = (largest, plan.total_worst_case_error)
    goals = (blocks, *errors) if objective == "fewest_blocks" else (*errors, blocks)
    assert (len(plan.unmet), *goals) == best_values(angle_cases(targets)[0], objective)
    assert plan.objective_proven
    assert answer.outcome in {"optimal", "partial", "infeasible"}
    assert verify((), targets, answer, objective=objective) == ()


@settings(max_examples=40, deadline=None)
@given(sharing())
def test_nearest_angles_are_those_of_an_exhaustive_search(targets: list[AngleBlocksTarget]) -> None:
    """Of a target that cannot be built alone, none of all signs of all blocks is nearer."""
    target = replace(targets[0], needed_from=None, needed_until=None)
    (result,) = found(solve((), [target], time_limit_ms=60_000), [target])

    if result.reason is not None:
        edges = (target.angle - target.max_angle_error, target.angle + target.max_angle_error)
        sums = reachable(target)
        assert result.reason == "cannot_be_built"
        assert result.nearest_below == max((t for t in sums if t < edges[0]), default=None)
        assert result.nearest_above == min((t for t in sums if t > edges[1]), default=None)


def reachable(target: AngleBlocksTarget) -> set[int]:
    """Every angle over 0 of the blocks that are there, of no more than allowed."""
    left = Counter(angle_composition(target.composition).nominals) - Counter(target.missing)
    sums = {(0, 0)}
    for nominal in left.elements():
        sums |= {(t + way, n + 1) for t, n in sums for way in (nominal, -nominal)}
    most = target.max_blocks or len(left)
    return {total for total, count in sums if total > 0 and count <= most}


class TestSharing:
    def test_two_targets_of_one_case_never_get_one_block(self) -> None:
        """There is one block of 27 degrees; the second takes 41 - 9 - 3 - 1 - 1, which is none."""
        targets = [wanted("a", "27", "angle-13"), wanted("b", "26", "angle-13")]
        answer = solve((), targets)

        plan = plan_of(answer)
        held = Counter(block.id for stack in plan.stacks for block in stack.blocks)
        assert max(held.values()) == 1
        assert verify((), targets, answer) == ()
        assert verify((), targets, without_claims(answer)) == ()

    def test_who_comes_short_is_told_who_has_the_blocks(self) -> None:
        targets = [wanted("a", "30"), wanted("b", "30"), wanted("c", "45")]
        missing = tuple(n for n in angle_composition("angle-16").nominals if n < 30 * DEGREE)
        targets = [replace(target, missing=missing) for target in targets]
        answer = solve((), targets)
        first, second, third = found(answer, targets)

        assert (answer.outcome, answer.proven) == ("partial", True)
        assert (first.reason, third.reason) == (None, None)
        assert (second.reason, second.held_by) == ("blocks_in_use", ("a",))
        assert second.nearest_above is None
        assert [remark.key for remark in second.remarks] == ["angle.in_use"]

    def test_cases_of_their_own_do_not_contend(self) -> None:
        targets = [wanted("a", "30"), replace(wanted("b", "30"), case="second case")]
        answer = solve((), targets)

        assert answer.outcome == "optimal"
        assert [each.case for each in answer.cases] == ["angle-16", "second case"]
        assert [each.plan.total_blocks for each in answer.cases] == [1, 1]

    def test_at_other_times_a_block_serves_again(self) -> None:
        noon = MORNING + timedelta(hours=4)
        early = replace(wanted("a", "30"), needed_until=noon)
        late = replace(wanted("b", "30"), needed_from=noon)

        assert plan_of(solve((), [early, late])).total_blocks == 2
        long = replace(late, needed_from=noon - timedelta(minutes=1))
        assert plan_of(solve((), [early, long])).total_blocks > 2

    def test_what_one_target_says_of_the_case_holds_for_all(self) -> None:
        stated = replace(wanted("a", "45"), missing=(angle("30"),), grade="laboratory")
        targets = [stated, wanted("b", "30")]
        plan = plan_of(solve((), targets))

        ids = {block.id for stack in plan.stacks for block in stack.blocks}
        assert "angle-16/30°00'00.0\"" not in ids
        assert plan.total_worst_case_error == plan.total_blocks * SECOND // 4

    def test_two_kinds_of_blocks_make_one_outcome(self) -> None:
        missed = replace(wanted("a", "30"), max_blocks=1, missing=(angle("30"),))
        targets: list[Target] = [missed, LengthTarget(ref="x", length=mm("10"))]
        blocks = make_blocks("10")
        answer = solve(blocks, targets)

        assert (answer.outcome, answer.proven) == ("partial", True)
        assert answer.bounds.served == len(answer.stacks) == 1
        assert verify(blocks, targets, answer) == ()
        assert solve((), targets[:1]).outcome == "infeasible"

    def test_a_time_limit_that_ends_first_is_said(self) -> None:
        targets = [wanted("a", "33°11'36\""), wanted("b", "45")]
        answer = solve((), targets, time_limit_ms=0.001)

        assert (answer.outcome, answer.proven, answer.objective_proven) == ("unknown", False, False)
        assert [result.reason for result in found(answer, targets)] == ["not_decided"] * 2
        assert verify((), targets, answer) == ()
        assert verify((), targets, without_claims(answer)) == ()

    def test_an_angle_may_be_called_as_the_stack_of_another_target_once_was(self) -> None:
        limits = LimitsTarget(ref="op20", lower=mm("8.01"), upper=mm("8.05"))

        answer = solve((), [limits, wanted("op20/go", "30")])

        assert [str(each.name) for each in answer.unmet] == ["op20 (go)", "op20 (not_go)"]
        assert [stack.target for stack in answer.cases[0].plan.stacks] == ["op20/go"]

    @pytest.mark.parametrize(
        ("changed", "at"),
        [
            (replace(wanted("b", "30", "angle-13"), case="angle-16"), "/targets/1/composition"),
            (replace(wanted("b", "30"), grade="toolroom"), "/targets/1/grade"),
            (replace(wanted("b", "30"), limit_deviation=0), "/targets/1/limit_deviation"),
            (replace(wanted("b", "30"), max_blocks=0), "/targets/1/max_blocks"),
            (replace(wanted("b", "30"), needed_until=NO_OFFSET), "/targets/1/needed_until"),
            (replace(wanted("b", "30"), ref="x/go"), "/targets/1/ref"),
        ],
    )
    def test_contradictions_are_refused(self, changed: AngleBlocksTarget, at: str) -> None:
        first = replace(wanted("x/go", "45"), grade="laboratory", limit_deviation=SECOND)
        with pytest.raises(InputError) as refused:
            solve((), [first, changed])

        assert at in {fault.pointer for fault in refused.value.faults}


SHARED = [
    wanted("early", "30"),
    replace(wanted("fine", "33°11'36\""), grade="laboratory"),
    replace(wanted("short", "33°11'36\""), max_blocks=3),
    replace(wanted("late", "45"), case="second case"),
]


@pytest.fixture(name="honest", scope="module")
def _honest() -> Answer:
    """Two targets that share a case, one that is out of reach, and another case."""
    return solve((), SHARED, time_limit_ms=60_000)


def first_stack(answer: Answer, **changes: object) -> Answer:
    """The answer with another first stack of its first case."""
    first, *rest = plan_at(answer).stacks
    return first_plan(answer, stacks=(replace(first, **changes), *rest))


def first_plan(answer: Answer, **changes: object) -> Answer:
    """The answer with another plan for its first case."""
    first, *rest = answer.cases
    return replace(answer, cases=(replace(first, plan=replace(first.plan, **changes)), *rest))


def plan_at(answer: Answer) -> Answer:
    return answer.cases[0].plan


def turned(answer: Answer) -> tuple[PlacedBlock, ...]:
    """The blocks of the second stack, the first of them turned over."""
    first, *rest = plan_at(answer).stacks[1].blocks
    return (replace(first, nominal=-first.nominal), *rest)


def twice(answer: Answer) -> Answer:
    """The block of the first stack stands in the second, too."""
    first, second = plan_at(answer).stacks
    return first_plan(answer, stacks=(first, replace(second, blocks=first.blocks)))


def below(answer: Answer) -> Answer:
    """A nearest angle that its blocks do not give."""
    (unmet,) = plan_at(answer).unmet
    assert unmet.nearest_below is not None
    wrong = replace(unmet.nearest_below, length=unmet.nearest_below.length - SECOND)
    return first_plan(answer, unmet=(replace(unmet, nearest_below=wrong),))


def held(answer: Answer) -> Answer:
    """Someone is said to hold blocks who has none."""
    (unmet,) = plan_at(answer).unmet
    changed = replace(
        unmet, reason="blocks_in_use", held_by=("late",), nearest_below=None, nearest_above=None
    )
    return first_plan(answer, unmet=(changed,))


TAMPERED: dict[str, tuple[str, Callable[[Answer], Answer]]] = {
    "a plan is left out": ("cases", lambda a: replace(a, cases=a.cases[1:])),
    "a stack is left out": ("refs", lambda a: first_plan(a, stacks=plan_at(a).stacks[1:])),
    "a block is promised twice": ("used once", twice),
    "a block is turned over": (
        "nominal sums",
        lambda a: first_plan(
            a, stacks=(plan_at(a).stacks[0], replace(plan_at(a).stacks[1], blocks=turned(a)))
        ),
    ),
    "a block of no case": (
        "shelf",
        lambda a: first_stack(a, blocks=(PlacedBlock(id="x", nominal=30 * DEGREE),)),
    ),
    "a wrong angle": ("nominal sums", lambda a: first_stack(a, nominal=29 * DEGREE)),
    "a wrong error": ("worst-case errors", lambda a: first_stack(a, worst_case_error=0)),
    "a wrong total": ("totals", lambda a: first_plan(a, total_blocks=1)),
    "a bound that is beaten": ("served bound", lambda a: first_plan(a, bounds=Bounds(served=1))),
    "a nearest angle that is none": ("nearest lengths", below),
    "someone holds no blocks": ("holders", held),
    "an outcome for lengths only": ("outcome", lambda a: replace(a, outcome="optimal")),
    "a proof that a case lacks": (
        "proofs",
        lambda a: first_plan(a, objective_proven=False, proven=False),
    ),
}


class TestChecker:
    def test_an_honest_answer_breaks_no_rule(self, honest: Answer) -> None:
        assert verify((), SHARED, honest) == ()
        assert [len(plan_at(honest).stacks), len(plan_at(honest).unmet)] == [2, 1]
        assert (honest.outcome, honest.proven) == ("partial", True)

    @pytest.mark.parametrize("name", TAMPERED)
    def test_tampering_is_found(self, honest: Answer, name: str) -> None:
        rule, tamper = TAMPERED[name]

        found = verify((), SHARED, tamper(honest))

        assert rule in {breach.rule for breach in found}
