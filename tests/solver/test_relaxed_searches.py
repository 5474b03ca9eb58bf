"""Bounds by relaxation, held to every stack that there is, and the stacks that come with them."""

from itertools import combinations

import numpy as np
import pytest
from msgspec.structs import replace

from wrung import Block, LengthTarget, Tolerance, mm
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.candidates.goals import error_goal
from wrung.planning.candidates.relaxed import VARIANTS
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import NEVER, by_error
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import FREE, Prices, Workbench, set_up, spelt_out
from wrung.planning.objectives.largest import Halving
from wrung.planning.pricing.question import Question
from wrung.planning.problem import build_problem
from wrung.planning.selection.scarcity import pack
from wrung.tuning import Tuning

SIZES = "1.001 1.002 1.003 1.005 1.01 1.02 1.03 1.05 1.5 2 3 5"
TARGETS = ("4.5", "5.03", "6.004")


def bench_of(seed: int) -> Workbench:
    """A few certified blocks, and targets with windows of several lengths each."""
    rng = np.random.default_rng(seed)
    blocks = [
        Block(
            id=size,
            nominal=mm(size),
            deviation=int(rng.integers(-15, 16)) * 1000,
            expanded_uncertainty=int(rng.integers(3, 9)) * 1000,
        )
        for size in SIZES.split()
    ]
    targets = [
        LengthTarget(
            ref=length,
            length=mm(length),
            tolerance=Tolerance(lower=-mm("0.002"), upper=mm("0.002")),
        )
        for length in TARGETS
    ]
    order = Order(blocks=blocks, targets=targets, objective="least_error", joint_allowance=0)
    problem = build_problem(order)
    bench = set_up(problem, by_error(problem), Deadline(60_000))
    assert bench is not None
    spelt = spelt_out(bench)
    assert spelt.spelt_out
    return spelt


def all_stacks(bench: Workbench) -> set[tuple[int, tuple[int, ...]]]:
    """Every demand with the kinds of every stack for it, tried one by one."""
    found = set[tuple[int, tuple[int, ...]]]()
    kinds = range(len(bench.stock.nominals))
    for count in range(1, len(kinds) + 1):
        for chosen in combinations(kinds, count):
            length = sum(int(bench.stock.nominals[kind]) for kind in chosen)
            for place, demand in enumerate(bench.problem.demands):
                if demand.low <= length <= demand.high:
                    found.add((place, chosen))
    return found


def named(candidates: Candidates) -> set[tuple[int, tuple[int, ...]]]:
    rows = zip(candidates.demands.tolist(), candidates.kinds.tolist(), strict=True)
    return {(demand, tuple(sorted(k for k in kinds if k >= 0))) for demand, kinds in rows}


def prices_of(bench: Workbench, seed: int) -> Prices:
    rng = np.random.default_rng(seed)
    return Prices(by_clique=(rng.integers(0, 40_000, len(bench.stock.nominals)),))


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("priced", [False, True], ids=["free", "priced"])
def test_no_stack_costs_less_than_its_bound(seed: int, *, priced: bool) -> None:
    """Whatever the limit and the variant, and every stack that comes with it is one there is."""
    bench = bench_of(seed)
    goal = error_goal(bench.stock, bench.starts, signs=True)
    prices = prices_of(bench, seed) if priced else bench.no_prices()
    whole = Search(bench, goal, (), prices).within(np.full(len(TARGETS), FREE))
    assert whole is not None
    there = all_stacks(bench)
    assert named(whole) == there

    for limit in sorted(whole.errors.tolist())[:: max(len(whole) // 6, 1)]:
        cap = Cap(goal=goal, most=np.full(len(TARGETS), limit))
        search = Search(bench, goal.free, (cap,), prices)
        kept = whole.where(whole.errors <= limit)
        least = np.full(len(TARGETS), NEVER)
        np.minimum.at(least, kept.demands, search.costs(kept))
        starts = bench.starts.demands
        for variant in range(VARIANTS):
            by_start, found = search.relaxed_by_start(cap, np.arange(len(starts)), variant, 3)
            bounds = np.full_like(least, NEVER)
            np.minimum.at(bounds, starts, by_start)
            assert (bounds <= least).all()
            assert named(found) <= named(kept)


@pytest.mark.parametrize("seed", range(12))
def test_scarce_pieces_rule_out_no_plan_that_there_is(seed: int) -> None:
    """The limit of every plan, tried one by one, passes."""
    bench = bench_of(seed)
    goal = error_goal(bench.stock, bench.starts, signs=True)
    whole = Search(bench, goal).within(np.full(len(TARGETS), FREE))
    assert whole is not None
    stacks = sorted(
        zip(whole.errors.tolist(), whole.demands.tolist(), whole.kinds.tolist(), strict=True)
    )
    best = _least_largest([(e, d, frozenset(k for k in ks if k >= 0)) for e, d, ks in stacks])
    assert best is not None
    cap = Cap(goal=goal, most=np.full(len(TARGETS), best))
    everyone = (len(TARGETS),)
    assert pack(bench, (cap,), Deadline(60_000), everyone) == everyone


def _least_largest(stacks: list[tuple[int, int, frozenset[int]]]) -> int | None:
    """The least largest error of stacks for all demands side by side; stacks by error."""
    for place, (error, own, kinds) in enumerate(stacks):
        free = [s for s in stacks[:place] if s[1] != own and not s[2] & kinds]
        others = sorted({d for _, d, _ in stacks} - {own})
        first = [s[2] for s in free if s[1] == others[0]]
        second = [s[2] for s in free if s[1] == others[1]]
        if any(not one & two for one in first for two in second):
            return error
    return None


def test_a_search_that_is_too_large_says_no_less() -> None:
    """Cut off at once, it still has a bound."""
    bench = bench_of(1)
    goal = error_goal(bench.stock, bench.starts, signs=True)
    prices = prices_of(bench, 1)
    exact = Search(bench, goal, (), prices).cheapest(0)
    assert exact.exact
    small = replace(bench, deadline=Deadline(60_000, tuning=Tuning(most_partial_straight=1)))
    cut = Search(small, goal, (), prices).cheapest(0, most_partial=1)
    assert not cut.exact
    assert (cut.least <= exact.least).all()


def test_a_bound_between_two_errors_is_raised_to_the_next() -> None:
    """Errors are multiples of 10 nm: a limit between two rules out no more than the lower one."""
    bench = bench_of(0)
    goal = error_goal(bench.stock, bench.starts, signs=True)
    question = Question(
        bench=bench, goal=goal, caps=(), served=bench.quota((1,)), window=0, grain=1000
    )
    some = Search(bench, goal).cheapest(0).candidates.where(np.array([0]))
    halving = Halving(
        ask=lambda _limit, _bench, _signs: question,
        improve=lambda plan, _: plan,
        bench=bench,
        pool=some,
        known=replace(some, errors=np.array([500_000])),
        least=341_203,
        signs=True,
    )

    assert halving.run(Deadline(0)).bound == 342_000
