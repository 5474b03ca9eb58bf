"""Two findings of any engines, cut short anywhere, joined and filled up: no claim is false."""

from collections import Counter
from typing import Final

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from solver.problems import problem_of
from solver.proofs.agreement import report
from solver.proofs.countdown import Countdown
from solver.proofs.crowded import crowded_requests
from wrung import Answer, Unmet, verify
from wrung.planning import direct, engine, engines
from wrung.planning.assembly import answer
from wrung.planning.best_plan import best_plan
from wrung.planning.deadline import Deadline
from wrung.planning.engines import EngineName
from wrung.planning.finding import Engine, Finding
from wrung.planning.problem import Problem
from wrung.testing import Request

SEARCHES: Final[dict[EngineName, Engine]] = {
    "candidates": engine.search,
    "direct": direct.search,
}
SECONDS: Final = 1.0
"""For each of the two searches, whose clock may end them sooner."""
LOOKS: Final = st.integers(4, 13).flatmap(lambda k: st.integers(2**k, 2 ** (k + 1)))
"""At the clock until it has passed: any of the first ones as often as any of the next."""
ORDERS: Final = st.permutations(("candidates", "direct")) | st.just(("candidates", "candidates"))


def cut(name: EngineName, looks: int) -> tuple[EngineName, Engine]:
    """The engine of that name, cut short after so many looks at the clock."""

    def search(problem: Problem, deadline: Deadline) -> Finding | None:
        del deadline
        return SEARCHES[name](problem, Countdown(looks, each_s=SECONDS))

    return name, search


def answered(request: Request, two: tuple[tuple[EngineName, Engine], ...], fill: int) -> Answer:
    """What comes of both findings, with so many looks left to fill the plan up."""
    problem = problem_of(request)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(engines, "ENGINES", two)
        best = best_plan(problem, Deadline(60_000), Countdown(fill))
    unmet = tuple(
        Unmet(target=demand.requirement.target, reason="not_decided")
        for demand, stack in zip(problem.demands, best.plan, strict=True)
        if stack is None
    )
    return answer(problem, best, unmet, None, joint_allowance=0, solve_ms=0.0)


def hold(cases: int) -> Counter[str]:
    """So many crowded requests pass the checker; how often what was met."""
    seen: Counter[str] = Counter()

    # A smaller request would not be crowded, so that none is looked for where one fails.
    @settings(max_examples=cases, phases=(Phase.reuse, Phase.generate))
    @given(crowded_requests(), ORDERS, LOOKS, LOOKS, st.sampled_from((0, 10_000)))
    def joined(
        request: Request, order: tuple[EngineName, EngineName], one: int, other: int, fill: int
    ) -> None:
        two = (cut(order[0], one), cut(order[1], other))
        found = answered(request, two, fill)
        assert not verify(
            request.blocks,
            request.targets,
            found,
            objective=request.objective,
            joint_allowance=0,
        )
        seen[found.outcome] += 1
        seen["bounded"] += found.bounds.total_blocks is not None
        seen["proven"] += found.objective_proven

    joined()
    report(seen)
    return seen


def test_joined_findings_claim_nothing_false() -> None:
    hold(25)


@pytest.mark.long
def test_many_joined_findings_claim_nothing_false() -> None:
    seen = hold(300)

    assert seen["partial"] > seen["proven"] > 0
