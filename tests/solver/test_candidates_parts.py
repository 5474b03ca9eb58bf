"""What the engine of candidate stacks is made of, each part against a plain count."""

from collections.abc import Sequence
from datetime import timedelta
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver import oracle_engine
from solver.problems import problem_of
from wrung import GaugeSet, LengthTarget, mm
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.assignment import as_candidates, hand_out
from wrung.planning.candidates import workbench
from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal
from wrung.planning.candidates.grids import lay_out
from wrung.planning.candidates.layout import laid_out
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.stock import NEVER, Stock, by_error, by_nominal
from wrung.planning.candidates.tables import build_table
from wrung.planning.candidates.walk import (
    Candidates,
    Limit,
    no_candidates,
)
from wrung.planning.candidates.workbench import (
    FREE,
    Workbench,
    list_candidates,
    set_up,
    spelt_out,
)
from wrung.planning.finding import Totals, totals
from wrung.planning.objectives.alone import error_grain
from wrung.planning.objectives.serving import block_question, own_caps, serve
from wrung.planning.objectives.stages import settle_sum
from wrung.planning.pricing.prices import dearest_plan, price
from wrung.planning.pricing.question import Question
from wrung.planning.problem import Problem, build_problem, error_of
from wrung.planning.selection.scarcity import pack
from wrung.testing import SHIFT, Request, make_blocks, make_targets, requests
from wrung.tuning import Tuning

LONGEST = mm("1000")
LENGTHS = st.lists(st.sampled_from((1, 2, 3, 10, 11, 20, 30, 100, 110)), min_size=1, max_size=8)


def ample() -> Deadline:
    return Deadline(60_000)


def stock_of(lengths: list[int]) -> Stock:
    text = " ".join(str(length) for length in lengths)
    return by_nominal(
        build_problem(
            Order(
                blocks=make_blocks(text),
                targets=make_targets("1"),
                objective="fewest_blocks",
                joint_allowance=0,
            )
        )
    )


def bench_of(problem: Problem, *, exact: bool = False) -> Workbench | None:
    """The problem laid out; None where it is beyond the tables."""
    return set_up(problem, by_error(problem) if exact else by_nominal(problem), ample())


def best_of(problem: Problem) -> Totals:
    found = oracle_engine.search(problem, ample())
    assert found.plan is not None
    return totals(problem, found.plan)


def sums_of(items: list[tuple[int, int]]) -> dict[int, int]:
    """Least sum of costs by sum of lengths, over every set of the items."""
    least: dict[int, int] = {}
    for count in range(len(items) + 1):
        for chosen in combinations(items, count):
            length, cost = sum(i[0] for i in chosen), sum(i[1] for i in chosen)
            least[length] = min(least.get(length, cost), cost)
    return least


@given(LENGTHS, st.lists(st.integers(-5, 20), min_size=8, max_size=8), st.sampled_from((400, 1, 2)))
def test_a_table_holds_the_least_cost_of_every_length(
    lengths: list[int], costs: list[int], compared: int
) -> None:
    """Costs may be negative, as deviations are; steps may be found from some of the lengths."""
    stock = stock_of(lengths)
    tuning = Tuning(most_lengths_compared=compared)
    layout = lay_out(stock, LONGEST, Deadline(60_000, tuning=tuning))
    own = np.array(costs, np.int64)[layout.kinds]
    units = (stock.nominals // layout.steps[0])[layout.kinds]
    reach = int(units.sum())
    table = build_table(layout, own[None], (reach,), ample())
    wanted = sums_of(list(zip(units.tolist(), own.tolist(), strict=True)))
    steps = np.arange(reach + 1)[:, None]
    found: list[int] = table.least(steps, np.zeros(reach + 1, np.int64)).tolist()

    assert {n: cost for n, cost in enumerate(found) if cost < FREE} == wanted


def test_a_shelf_of_more_than_a_thousand_blocks_is_laid_out() -> None:
    """There are more choices among so many pieces than a float holds; warnings are errors."""
    sets = [GaugeSet(id=f"{n}", composition="metric-112-1", grade="1").blocks() for n in range(10)]
    blocks = [block for own in sets for block in own]
    targets = [LengthTarget(ref="t", length=mm("151.2345"))]
    problem = problem_of(Request(blocks=tuple(blocks), targets=tuple(targets)))

    assert lay_out(by_nominal(problem), mm("200"), ample()).levels


def test_a_table_knows_nothing_beyond_its_reach() -> None:
    stock = stock_of([1, 2, 3])
    layout = lay_out(stock, LONGEST, ample())
    table = build_table(layout, np.ones((1, 3), np.int64), (4,), ample())

    assert table.least(np.array([[4], [5]]), np.zeros(2, np.int64)).tolist() == [2, NEVER]


@given(requests(max_blocks=8))
def test_all_stacks_are_enumerated_once(request: Request) -> None:
    """Every set of pieces that serves a demand alone, told apart by kinds, with its error."""
    problem = problem_of(request)
    bench = bench_of(problem, exact=True)
    if bench is None:
        return
    goal = block_goal(bench.stock, bench.starts)
    search = Search(bench, goal, own_caps(bench))
    found = search.within(np.full(len(problem.demands), FREE))
    assert found is not None

    assert sorted(_rows(found)) == sorted(_stacks(bench))


@given(
    request=requests(max_blocks=7),
    places=st.lists(st.integers(0, 2), min_size=7, max_size=7),
    spell=st.booleans(),
)
def test_whatever_the_grids_the_stacks_are_the_same(
    *, request: Request, places: list[int], spell: bool
) -> None:
    """Any pieces on any grids, with and without fine pieces in the starts, and within any limit."""
    problem = problem_of(request)
    stock = by_error(problem)
    if not stock.gauges:
        return
    _, grids = np.unique(places[: stock.gauges], return_inverse=True)
    columns = (stock.nominals[: stock.gauges], stock.capacities[: stock.gauges], grids)
    layout = laid_out(*(column.astype(np.int64).tobytes() for column in columns))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(workbench, "lay_out", lambda *_: layout)
        bench = set_up(problem, stock, ample())
    if bench is None:
        return
    bench = spelt_out(bench) if spell else bench
    goal = error_goal(bench.stock, bench.starts, signs=True)
    search = Search(bench, goal, own_caps(bench))
    wanted = sorted(_stacks(bench))
    errors = sorted(error for _, _, error in wanted)
    for limit in (FREE, errors[len(errors) // 2] if errors else 0):
        found = search.within(np.full(len(problem.demands), limit))
        assert found is not None
        assert sorted(_rows(found)) == [row for row in wanted if row[2] <= limit]


def _rows(found: Candidates) -> list[tuple[int, tuple[int, ...], int]]:
    return [
        (demand, tuple(sorted(k for k in kinds if k >= 0)), error)
        for demand, kinds, error in zip(
            found.demands.tolist(), found.kinds.tolist(), found.errors.tolist(), strict=True
        )
    ]


def _stacks(bench: Workbench) -> set[tuple[int, tuple[int, ...], int]]:
    problem = bench.problem
    kind_of = {piece: kind for kind, row in enumerate(bench.stock.pieces) for piece in row}
    return {
        (demand, _kinds(bench, [kind_of[p] for p in stack]), error_of(problem, demand, stack))
        for demand in range(len(problem.demands))
        for count in range(1, len(problem.pieces) + 1)
        for stack in combinations(range(len(problem.pieces)), count)
        if _serves(problem, demand, stack)
    }


def _kinds(bench: Workbench, own: Sequence[int]) -> tuple[int, ...]:
    return tuple(sorted(each for kind in own for each in bench.stock.with_body(kind)))


def _serves(problem: Problem, demand: int, stack: tuple[int, ...]) -> bool:
    wanted = problem.demands[demand]
    pieces = [problem.pieces[piece] for piece in stack]
    return (
        wanted.low <= sum(piece.nominal for piece in pieces) <= wanted.high
        and sum(piece.wear for piece in pieces) == wanted.wear
        and sum(piece.step for piece in pieces) <= wanted.step
        and len(stack) <= wanted.most
    )


def test_too_many_partial_stacks_are_not_followed() -> None:
    problem = build_problem(
        Order(
            blocks=make_blocks("1 2 3 4 5 6 7 8"),
            targets=make_targets("18"),
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    bench = set_up(problem, by_nominal(problem), ample())
    assert bench is not None
    table = build_table(bench.layout, np.ones((1, 8), np.int64), bench.reach, ample())
    none = np.zeros(1, np.int64)
    limit = Limit(table=table, ways=none, spent=none, most=np.full(1, FREE))

    assert list_candidates(bench, [limit], 5) is None


@given(requests(max_blocks=9, max_targets=4))
def test_scarce_pieces_never_deny_what_can_be_served(request: Request) -> None:
    problem = problem_of(request)
    bench = bench_of(problem)
    if bench is not None:
        assert pack(bench, own_caps(bench), ample()) >= best_of(problem).served


@pytest.mark.parametrize(
    ("nominals", "lengths", "most"),
    [
        ("1.001 1 2 3 4", "2.001 3.001 5.001", 1),
        ("1.001 1.001 1 2 3 4", "2.001 3.001 5.001", 2),
        ("1.001 1.002 1 2 3 4", "2.001 3.002 5.003", 2),
    ],
)
def test_each_scarce_piece_serves_one(nominals: str, lengths: str, most: int) -> None:
    """Only so many stacks can end in thousandths."""
    problem = build_problem(
        Order(
            blocks=make_blocks(nominals),
            targets=make_targets(lengths),
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    bench = bench_of(problem)
    assert bench is not None

    assert pack(bench, (), ample()) == (most,)


@given(requests(max_blocks=9, max_targets=4))
def test_serving_finds_the_most_and_the_fewest_blocks_for_it(request: Request) -> None:
    problem = build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    bench = bench_of(problem)
    best = best_of(problem)
    served = None if bench is None else serve(bench, ample())
    if served is None:
        assert bench is None or not any(best.served)
        return

    assert (served.count, served.most) == (best.served, best.served)
    assert (served.blocks.end, served.blocks.value) == ("settled", best.blocks * BLOCK)


@given(requests(max_blocks=9, max_targets=4))
def test_prices_never_prove_more_than_is_true(request: Request) -> None:
    """Begun with no candidates at all, the bound on the blocks is no higher than the optimum."""
    problem = build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    bench, best = bench_of(problem), best_of(problem)
    if bench is None or not any(best.served):
        return
    question = block_question(bench, best.served)
    priced = price(question, no_candidates(), slack=1, enough=FREE, deadline=ample())

    assert priced.bound <= best.blocks * BLOCK


@given(requests(max_blocks=8, max_targets=4))
def test_a_sum_of_errors_is_settled_or_shown_impossible(request: Request) -> None:
    """The least total of errors of plans that serve as many as can be, and one more."""
    problem = problem_of(request)
    bench, best = bench_of(problem, exact=True), best_of(problem)
    if bench is None or not any(best.served):
        return
    most = settle_sum(_errors(bench, best.served), no_candidates(), ample())
    if sum(best.served) < len(problem.demands):
        first = next(k for k, n in enumerate(best.served) if n < problem.sizes[k])
        one_more = (
            *best.served[:first],
            best.served[first] + 1,
            *(0 for _ in best.served[first + 1 :]),
        )
        more = settle_sum(_errors(bench, one_more), no_candidates(), ample())
        assert more.end == "impossible"

    assert most.end == "settled"
    assert most.value == int(most.chosen.errors.sum()) <= best.total_error


def test_no_plan_is_thought_to_cost_more_than_all_blocks() -> None:
    """A search for the fewest blocks rises to the dearest plan block by block: errors are none."""
    far_off = {"deviation": mm("0.9"), "expanded_uncertainty": mm("0.1")}
    blocks = [replace(block, **far_off) for block in make_blocks("1 2 3")]
    problem = build_problem(
        Order(
            blocks=blocks, targets=make_targets("3 5"), objective="least_error", joint_allowance=0
        )
    )
    bench = bench_of(problem, exact=True)
    assert bench is not None
    assert dearest_plan(bench, block_goal(bench.stock, bench.starts)) == 3 * BLOCK


def _errors(bench: Workbench, served: tuple[int, ...]) -> Question:
    return Question(
        bench=bench,
        goal=error_goal(bench.stock, bench.starts, signs=True),
        caps=own_caps(bench),
        served=bench.quota(served),
        window=0,
        grain=error_grain(bench),
    )


@given(st.lists(st.tuples(st.integers(0, 8), st.integers(1, 4)), min_size=1, max_size=8))
def test_pieces_are_handed_out_so_that_overlapping_stacks_share_none(
    times: list[tuple[int, int]],
) -> None:
    """Stacks of one block of one kind: as many pieces as are needed at one time are enough."""
    spans = [range(start, start + length) for start, length in times]
    needed = max(sum(hour in span for span in spans) for hour in range(12))
    problem = _shifts(spans, needed)
    bench = bench_of(problem)
    assert bench is not None
    plan = hand_out(bench, as_candidates(bench, tuple((0,) for _ in spans)))

    for one, other in combinations(range(len(spans)), 2):
        if set(spans[one]) & set(spans[other]):
            assert plan[one] != plan[other]


def _shifts(spans: list[range], pieces: int) -> Problem:
    targets = [
        LengthTarget(
            ref=f"t{n}",
            length=mm("5"),
            needed_from=SHIFT + timedelta(hours=span.start),
            needed_until=SHIFT + timedelta(hours=span.stop),
        )
        for n, span in enumerate(spans)
    ]
    blocks = make_blocks(" ".join(["5"] * pieces))
    return build_problem(
        Order(blocks=blocks, targets=targets, objective="fewest_blocks", joint_allowance=0)
    )
