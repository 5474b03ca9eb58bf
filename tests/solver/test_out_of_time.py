"""What is given up when the time ends: it says less, and nothing that is not so."""

from collections.abc import Sequence
from typing import Final
from unittest.mock import patch

import numpy as np
import pytest
from msgspec.structs import replace
from ortools.sat.python.cp_model import CpModel, CpSolver

from solver.proofs.countdown import Countdown
from wrung import Block, inch, mm
from wrung.catalogue import all_addable
from wrung.deadline import Deadline
from wrung.memory import Memory
from wrung.order import Order
from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal
from wrung.planning.candidates.grids import lay_out
from wrung.planning.candidates.layout import Layout
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.starts import starts_of
from wrung.planning.candidates.stock import by_nominal
from wrung.planning.candidates.tables import TableCache, build_table
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import FREE, Workbench, set_up
from wrung.planning.engines import serve_all
from wrung.planning.pricing.master import Master
from wrung.planning.pricing.question import Question
from wrung.planning.problem import Problem, build_problem
from wrung.planning.selection import choice
from wrung.planning.selection.choice import Choice
from wrung.planning.selection.scarcity import patterns_of
from wrung.planning.shortage.completion import completions
from wrung.planning.shortage.scarce import scarce_blocks
from wrung.planning.solvers import Verdict, run
from wrung.planning.two_units import of_two_units
from wrung.testing import make_blocks, make_targets
from wrung.tuning import Tuning

WIDE: Final = 100_000
"""Cells of a row, so that filling one is worth a look at the clock."""
LOOKS: Final = 60
"""More than any of these takes."""


def problem_of(blocks: str, *targets: str) -> Problem:
    return build_problem(
        Order(
            blocks=make_blocks(blocks),
            targets=make_targets(" ".join(targets)),
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )


def wide_layout() -> Layout:
    return lay_out(by_nominal(problem_of("0.001 0.002 0.003 100", "5")), mm("5"), Deadline(60_000))


def bench_of(problem: Problem) -> Workbench:
    bench = set_up(problem, by_nominal(problem), Deadline(60_000))
    assert bench is not None
    return bench


def test_a_table_that_is_given_up_bounds_every_stack() -> None:
    layout, costs = wide_layout(), np.array([[5, -7, 3, -2]], np.int64)
    whole = build_table(layout, costs, (WIDE,), Deadline(60_000))
    lengths = np.arange(WIDE + 1)[:, None]
    ways = np.zeros(WIDE + 1, np.int64)
    cut = 0
    for looks in range(LOOKS):
        table = build_table(layout, costs, (WIDE,), Countdown(looks))
        cut += table.cut
        if not table.cut:
            assert np.array_equal(table.least(lengths, ways), whole.least(lengths, ways))
            break
        assert (table.least(lengths, ways) <= whole.least(lengths, ways)).all()

    # At the first look, and between rows, too.
    assert 2 <= cut < LOOKS


def test_a_table_that_is_given_up_is_not_kept() -> None:
    layout, costs, cache = wide_layout(), np.ones(4, np.int64), TableCache()

    assert cache.get(layout, costs, (WIDE,), Countdown(1)).cut
    assert not cache.tables
    assert not cache.get(layout, costs, (WIDE,), Deadline(60_000)).cut


@pytest.mark.parametrize(("blocks", "verdict"), [("1 2 3", "impossible"), ("1 2 3 3", "best")])
def test_a_choice_that_is_given_up_says_nothing(blocks: str, verdict: str) -> None:
    """Of two stacks of 3 from 1, 2 and 3 one is of 1 and 2; a third takes another 3."""
    problem = problem_of(blocks, "3", "3", "3")
    bench = bench_of(problem)
    goal = block_goal(bench.stock, bench.starts)
    found = Search(bench, goal).within(np.full(3, FREE))
    assert found is not None
    seen: list[str] = []
    for looks in range(LOOKS):
        deadline = Countdown(looks)
        choice = Choice(replace(bench, deadline=deadline), found, served=bench.quota((3,)))
        choice.limit_sum(found.counts, 100)
        seen.append(choice.solve("least_sum", found.counts, deadline).verdict)

    assert seen == ["unknown"] * seen.count("unknown") + [verdict] * seen.count(verdict)
    assert seen.count("unknown") >= len(("variables", "demands", "a kind"))
    assert seen[-1] == verdict


def test_patterns_are_unknown_once_the_time_is_up() -> None:
    bench = bench_of(problem_of("1.1 1.2 1.3 1 2 4", "3.3", "5.3"))
    assert patterns_of(bench, ()) is not None

    assert patterns_of(replace(bench, deadline=Countdown(0)), ()) is None


def test_a_programme_of_prices_is_unknown_once_the_time_is_up() -> None:
    bench = bench_of(problem_of("1.1 1.2 1.3 1 2 4", "3.3", "5.3"))
    goal = block_goal(bench.stock, bench.starts)
    found = Search(bench, goal).within(np.full(2, FREE))
    assert found is not None
    for deadline, known in ((Countdown(LOOKS), True), (Countdown(0), False)):
        question = Question(
            bench=replace(bench, deadline=deadline),
            goal=goal,
            caps=(),
            served=bench.quota((2,)),
            window=0,
            grain=1,
        )
        master = Master(question, found)
        assert (master.solve(deadline) is not None) == known


def test_lengths_are_parted_into_fewer_grids_where_time_is_up() -> None:
    inches = make_blocks("0.1001 0.1002 0.101 0.102 1 2", unit="in")
    blocks = [replace(block, id=f"inch {block.id}") for block in inches]
    blocks += make_blocks("1.005 1.01 10")
    order = Order(blocks=blocks, targets=make_targets("60"), objective="fewest_blocks")
    stock = by_nominal(build_problem(order))

    assert len(lay_out(stock, inch("3"), Deadline(60_000)).steps) > 1
    assert len(lay_out(stock, inch("3"), Countdown(0)).steps) == 1


def test_all_parts_of_a_search_have_the_time_after_its_end_in_common() -> None:
    """A part that is late before the end takes it from those after it."""
    ample, short = Deadline(60_000), Deadline(0.001, tuning=Tuning(overtime=1e9))
    while not short.passed:
        pass

    assert ample.share(0.5).late() is not ample.share(0.5).late()
    assert short.share(0.5).late() is short.late() is short.share(0.5).share(0.1).late()
    assert not short.late().passed


def test_sums_are_looked_over_where_there_is_time_for_it() -> None:
    """Of blocks to add and of two units; without the time, other ways are left."""
    problem = problem_of("1 1.5 2 2.5 10 20", "33.5")
    inches = make_blocks("0.1001 0.1002 1", unit="in")
    blocks = [*(replace(block, id=f"inch {block.id}") for block in inches), *make_blocks("1 2")]
    mixed = build_problem(
        Order(blocks=blocks, targets=make_targets("20"), objective="fewest_blocks")
    )
    for sums, known in ((20_000_000, True), (1, False)):
        deadline = Deadline(60_000, tuning=Tuning(sums_a_second=sums))
        offers = all_addable([piece.block for piece in problem.pieces])
        added = completions(problem, 0, range(6), (), offers, deadline)
        both = of_two_units(mixed, range(5), mixed.demands[0], mm("20"), deadline)

        assert any(len(each.added) == 1 for each in added) == known
        assert (both is not None) == known
    full = Deadline(60_000, memory=Memory(0))
    assert of_two_units(mixed, range(5), mixed.demands[0], mm("20"), full) is None


def test_stacks_with_added_blocks_end_with_the_time() -> None:
    """Each takes a while where lengths are long and steps fine."""
    problem = problem_of("1 1.5 2 2.5 10 20", "33.5")
    offers = all_addable([piece.block for piece in problem.pieces])

    def found(deadline: Deadline) -> int:
        return len([*completions(problem, 0, range(6), (), offers, deadline)])

    counts = [found(Countdown(looks)) for looks in range(6)]
    assert counts == sorted(counts)
    assert counts[0] == 0
    assert counts[-1] < found(Deadline(60_000))


def test_the_clock_is_looked_at_for_each_kind_that_may_be_scarce() -> None:
    """To see whether one more of it completes a stack takes a while where steps are fine."""
    problem = problem_of(" ".join(f"1.{n}" for n in range(10, 50)), "53")
    ample = Countdown(1_000)

    assert scarce_blocks(problem, (None,), 0, ample)
    assert 1_000 - ample.looks_left > len(problem.pieces)
    assert not scarce_blocks(problem, (None,), 0, Countdown(3))


def test_a_large_choice_is_not_presolved_in_a_hurry() -> None:
    """The solver does not check the clock as it presolves."""
    problem = problem_of("1.1 1.2 1.3 1 2 4", "3.3", "5.3")
    bench = bench_of(problem)
    goal = block_goal(bench.stock, bench.starts)
    found = Search(bench, goal).within(np.full(2, FREE))
    assert found is not None
    presolved: list[bool] = []

    def asked(solver: CpSolver, model: CpModel, deadline: Deadline) -> Verdict:
        presolved.append(bool(solver.parameters.cp_model_presolve))
        return run(solver, model, deadline)

    with patch.object(choice, "run", asked):
        for seconds in (1e-9, 1.0):
            tuning = Tuning(seconds_a_presolved_entry=seconds)
            slow = replace(bench, deadline=Deadline(5_000, tuning=tuning))
            made = Choice(slow, found, served=bench.quota((2,)))
            made.solve("least_sum", found.counts, slow.deadline, presolve=True)

    assert presolved == [True, False]


def test_nothing_is_built_once_the_time_is_up() -> None:
    problem = problem_of("1 2 3", "3")

    assert serve_all(problem, Deadline(60_000)).verdict == "found"
    assert serve_all(problem, Countdown(0)).verdict == "unknown"


def test_starts_are_unknown_where_they_take_too_long() -> None:
    """Two of fifty wear blocks of as many lengths: 1,225 pairs."""
    wear = [replace(block, id=f"w{n}", role="wear") for n, block in enumerate(hundredths(50))]
    target = replace(make_targets("5")[0], wear_blocks="both")
    problem = build_problem(
        Order(
            blocks=(*make_blocks("0.001 0.002 10"), *wear),
            targets=[target],
            objective="fewest_blocks",
            joint_allowance=0,
        )
    )
    stock = by_nominal(problem)
    layout = lay_out(stock, mm("5"), Deadline(60_000))
    starts = starts_of(problem, stock, layout, Deadline(60_000))
    assert starts is not None
    assert len(starts.steps) > 1_000

    assert starts_of(problem, stock, layout, Countdown(0)) is None


def hundredths(count: int) -> Sequence[Block]:
    return make_blocks(" ".join(f"{1 + n / 100:.2f}" for n in range(count)))


def test_a_search_whose_tables_are_given_up_is_not_exact() -> None:
    """It does not take what it has not looked for to be missing."""
    bench = bench_of(problem_of("0.001 0.002 0.003 100", "100.001"))
    goal = block_goal(bench.stock, bench.starts)
    whole = Search(bench, goal).cheapest(0)
    # Under other keys than those of tables that are kept by now.
    goal = error_goal(bench.stock, bench.starts, blocks=BLOCK + 1)
    search = Search(replace(bench, deadline=Countdown(0)), goal)
    cut = search.cheapest(0)

    assert whole.exact
    assert search.within(np.full(1, FREE)) is None
    assert not cut.exact
    assert cut.least[0] < whole.least[0]


def test_a_walk_cut_short_in_its_slices_finds_all_or_nothing() -> None:
    """What it had seen by then once passed for all there is, and so for a proof."""
    tuning = Tuning(walk_cells=1)
    bench = bench_of(problem_of("1 2 3 4 5 6 7 8 9", "10", "9", "17"))
    goal, most = block_goal(bench.stock, bench.starts), np.full(3, 9 * BLOCK)

    def found(deadline: Deadline) -> Candidates | None:
        search = Search(replace(bench, deadline=deadline), goal)
        return search.within(most)

    whole = found(Deadline(60_000, tuning=tuning))
    assert whole is not None
    parts = (found(Countdown(looks, tuning=tuning)) for looks in range(900))
    lengths = {None if part is None else len(part) for part in parts}
    assert lengths == {None, len(whole)}
