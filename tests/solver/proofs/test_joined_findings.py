"""A finding of any engine, cut short anywhere, joined with simple proofs and filled up."""

from collections import Counter
from typing import Final

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from solver.problems import problem_of
from solver.proofs.agreement import report
from solver.proofs.countdown import Countdown
from solver.proofs.crowded import SEEDS, crowded_request
from wrung import Answer, Unmet, verify
from wrung.deadline import Deadline
from wrung.planning import direct, engine, engines
from wrung.planning.assembly import answer
from wrung.planning.execution import best_plan
from wrung.planning.finding import Engine, EngineName, Finding
from wrung.planning.problem import Problem
from wrung.testing import Request

SEARCHES: Final[dict[EngineName, Engine]] = {
    "candidates": engine.search,
    "direct": direct.search,
}
SECONDS: Final = 0.25
"""For each run of a solver, whose clock may end it sooner."""
LOOKS: Final = st.integers(4, 13).flatmap(lambda k: st.integers(2**k, 2 ** (k + 1)))
"""At the clock until it has passed: any of the first ones as often as any of the next."""
CASES: Final = 120
ONCE_FALSE: Final = (
    (117699, "direct", 1024, 0),
    (619818, "candidates", 8192, 10_000),
    (42727, "candidates", 2048, 10_000),
)


def cut(name: EngineName, looks: int) -> Engine:
    """The engine of that name, cut short after so many looks at the clock."""

    def search(problem: Problem, deadline: Deadline) -> Finding | None:
        del deadline
        return SEARCHES[name](problem, Countdown(looks, each_s=SECONDS))

    return search


def answered(request: Request, engine_cut: Engine, fill: int) -> Answer:
    """What comes of the finding, with so many looks left to fill the plan up."""
    problem = problem_of(request)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engines, "ENGINES", (("candidates", engine_cut),))
        best = best_plan(problem, Deadline(60_000), Countdown(fill))
    unmet = tuple(
        Unmet(target=demand.requirement.target, reason="not_decided")
        for demand, stack in zip(problem.demands, best.plan, strict=True)
        if stack is None
    )
    return answer(problem, best, unmet, None, solve_ms=0.0)


def hold(seed: int, name: EngineName, looks: int, fill: int) -> Answer:
    """What a finding of a crowded request comes to passes the checker."""
    request = crowded_request(seed)
    found = answered(request, cut(name, looks), fill)
    assert not verify(
        request.blocks, request.targets, found, objective=request.objective, joint_allowance=0
    )
    return found


@pytest.mark.parametrize(("seed", "name", "looks", "fill"), ONCE_FALSE)
def test_what_was_once_false_is_claimed_no_more(
    seed: int, name: EngineName, looks: int, fill: int
) -> None:
    """Bounds of plans that serve fewer were kept beside a plan that serves more."""
    assert hold(seed, name, looks, fill).stacks


@pytest.mark.long
def test_joined_findings_claim_nothing_false() -> None:
    seen: Counter[str] = Counter()

    # A smaller request would not be crowded, so that none is looked for where one fails.
    @settings(max_examples=CASES, phases=(Phase.reuse, Phase.generate))
    @given(SEEDS, st.sampled_from(("candidates", "direct")), LOOKS, st.sampled_from((0, 10_000)))
    def joined(seed: int, name: EngineName, looks: int, fill: int) -> None:
        found = hold(seed, name, looks, fill)
        seen[found.outcome] += 1
        seen["bounded"] += found.bounds.total_blocks is not None
        seen["proven"] += found.objective_proven

    joined()
    report(seen)
    assert seen["partial"] > CASES // 4
    assert seen["bounded"] > seen["proven"] > 0
