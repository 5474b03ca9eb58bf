"""Patterns packed, then completed: what is claimed holds of every plan, tried one by one."""

import random
from collections import Counter
from collections.abc import Callable
from functools import partial
from typing import Final, TypeAlias
from unittest.mock import patch

import numpy as np
import pytest
from msgspec.structs import replace

from solver.oracle import Best
from solver.proofs.agreement import AMPLE_MS, exhaustive, report
from solver.proofs.whole_requests import WholeRequest
from wrung import Block, LengthTarget, Objective, mm, um
from wrung.deadline import Deadline
from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal
from wrung.planning.candidates.search import Cap
from wrung.planning.candidates.stock import NEVER, by_error
from wrung.planning.candidates.walk import no_candidates
from wrung.planning.candidates.workbench import Workbench, set_up
from wrung.planning.objectives.by_patterns import ByPatterns
from wrung.planning.objectives.closing import Closing, Settled
from wrung.planning.pricing.prices import dearest_plan, price
from wrung.planning.pricing.question import Question
from wrung.tuning import Tuning

CASES: Final = 25
SIZES: Final = ("1.001", "1.002", "1.003", "1.005", "1.01", "1.02", "1.03", "1.5", "2", "3", "5")
UNKNOWN: Final = Settled(end="open", value=NEVER, bound=0, chosen=no_candidates())
_Ask: TypeAlias = Callable[[Workbench, int], Question]
"""The question for so many served."""
ALL: Final = Tuning(spare_of_scarce=20)
FEW: Final = Tuning(spare_of_scarce=1)
"""Most patterns have more pieces than are enumerated at first."""


@pytest.mark.parametrize("tuning", [ALL, FEW], ids=["all", "few"])
@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_what_is_claimed_holds_of_every_plan(objective: Objective, tuning: Tuning) -> None:
    """As many as can be served, and one more, which no plan serves."""
    seen: Counter[str] = Counter()
    rng = random.Random(11)  # noqa: S311 - repeatable requests, no secrets
    for _ in range(CASES):
        bench, wanted, ask, best = _asked(_request(rng, objective), tuning)
        found = _settled(bench, ask, wanted.served)
        assert found.bound <= best <= found.value
        seen[found.end] += 1
        if found.end == "settled":
            assert found.value == best
            assert int(ask(bench, wanted.served).goal.costs(found.chosen).sum()) == best
        if wanted.served < len(bench.problem.demands):
            more = _settled(bench, ask, wanted.served + 1)
            assert more.value >= NEVER
            seen[f"one more {more.end}"] += 1
    report(seen)
    assert seen["settled"] >= 0.7 * CASES
    assert seen["one more impossible"] > 0


class _NothingFound(Closing):
    """What patterns are completed by stays open; only a bound is known."""

    def run(self) -> Settled:
        found = super().run()
        return replace(found, end="open", value=NEVER, chosen=no_candidates())


@pytest.mark.parametrize("objective", ["fewest_blocks", "least_error"])
def test_patterns_that_are_left_out_undecided_prove_nothing_of_better_plans(
    objective: Objective,
) -> None:
    """They may be those of the best plan, and never be chosen again."""
    rng, above = random.Random(12), 0  # noqa: S311 - repeatable requests, no secrets
    for _ in range(CASES):
        bench, wanted, ask, best = _asked(_request(rng, objective), ALL)
        with patch("wrung.planning.objectives.by_patterns.Closing", _NothingFound):
            found = _settled(bench, ask, wanted.served)
        assert found.bound <= best
        above += found.bound > 0
    assert above > 0.7 * CASES


def _asked(request: WholeRequest, tuning: Tuning) -> tuple[Workbench, Best, _Ask, int]:
    """What is asked for, what every plan shows, and the least cost of one that serves the most."""
    problem = request.problem()
    wanted = exhaustive(request, problem.demands)
    bench = set_up(problem, by_error(problem), Deadline(AMPLE_MS, tuning=tuning))
    assert bench is not None
    if problem.objective == "fewest_blocks":
        return bench, wanted, _blocks, wanted.total_blocks * BLOCK
    return bench, wanted, partial(_errors, limit=wanted.largest_error), wanted.total_error


def _settled(bench: Workbench, ask: _Ask, count: int) -> Settled:
    question = ask(bench, count)
    dearest = dearest_plan(bench, question.goal)
    priced = price(question, no_candidates(), slack=1, enough=dearest, deadline=bench.deadline)
    return ByPatterns(
        lambda own: ask(own, count), bench, priced, dearest, UNKNOWN, bench.deadline
    ).run()


def _blocks(bench: Workbench, count: int) -> Question:
    return Question(
        bench=bench,
        goal=block_goal(bench.stock, bench.starts),
        caps=(),
        served=bench.quota((count,)),
        window=0,
        grain=BLOCK,
    )


def _errors(bench: Workbench, count: int, *, limit: int) -> Question:
    goal = error_goal(bench.stock, bench.starts, signs=True)
    most = np.full(len(bench.problem.demands), limit)
    return Question(
        bench=bench,
        goal=goal,
        caps=(Cap(goal=goal, most=most),),
        served=bench.quota((count,)),
        window=0,
        grain=1,
    )


def _request(rng: random.Random, objective: Objective) -> WholeRequest:
    """Lengths that need two fine blocks or one, of which there are few."""
    blocks = tuple(
        Block(
            id=size,
            nominal=mm(size),
            deviation=rng.randint(-30, 30) * um("0.01"),
            expanded_uncertainty=rng.randint(5, 9) * um("0.01"),
        )
        for size in SIZES
    )
    targets = tuple(
        LengthTarget(
            ref=f"t{number}", length=sum(map(mm, rng.sample(SIZES, rng.choice((2, 3, 4)))))
        )
        for number in range(rng.choice((3, 4)))
    )
    return WholeRequest(
        blocks=blocks, targets=targets, objective=objective, joint_allowance=um("0.02")
    )
