"""The best of many candidates, held to every choice there is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.offers import Columns, bench_of, candidates_of, choices, columns
from wrung.deadline import Cancel, Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import NEVER
from wrung.planning.selection.choice import Selection, Usage, usages
from wrung.planning.selection.cuts import broken_triples, cuts_of
from wrung.planning.selection.narrowing import least_choice
from wrung.planning.selection.programme import Programme
from wrung.planning.selection.relaxing import PackingProgramme, SetPacking, relax, relaxed
from wrung.tuning import TUNING, Tuning


def packing_of(drawn: Columns) -> SetPacking:
    candidates = candidates_of(drawn)
    rows = [*usages(bench_of(drawn), candidates)]
    return SetPacking(
        costs=candidates.errors, demands=candidates.demands, served=drawn.quota(), rows=rows
    )


def chosen_of(drawn: Columns, most: int, tuning: Tuning = TUNING) -> Selection:
    candidates = candidates_of(drawn)
    costs, deadline = candidates.errors, Deadline(60_000, tuning=tuning)
    return least_choice(
        bench_of(drawn), candidates, drawn.quota(), costs, most=most, deadline=deadline
    )


@pytest.mark.parametrize("at_once", [0.0, 1.0])
@given(drawn=columns())
def test_the_least_choice_is_the_best_of_all(at_once: float, drawn: Columns) -> None:
    """With pieces that there are several of, and demands that overlap in part.

    At once, and where that is given no effort.
    """
    values = [sum(drawn.rows[n][2] for n in rows) for rows in choices(drawn)]
    selection = chosen_of(drawn, 1000, Tuning(effort_at_once=at_once, narrow_each=1))
    if not values:
        assert selection.verdict == "impossible"
        return
    rows: list[int] = selection.rows.tolist()

    assert selection.verdict == "best"
    assert sorted(rows) in choices(drawn)
    assert selection.value == min(values)
    assert selection.bound == selection.value


@given(columns(), st.integers(0, 20))
def test_a_limit_is_kept_to_or_shown_impossible(drawn: Columns, most: int) -> None:
    values = [sum(drawn.rows[n][2] for n in rows) for rows in choices(drawn)]
    selection = chosen_of(drawn, most)
    best = min(values, default=NEVER)

    assert selection.verdict == ("best" if best <= most else "impossible")
    assert selection.bound <= best


def test_once_no_column_is_left_to_let_in_costs_do_not_rise_one_by_one() -> None:
    """Halves of the first demand's two columns stand beside the other's, and neither does whole.

    Going up by one took two million steps, of which the columns aimed at were too many for a float.
    """
    rows = (
        (1, (0, 0, 0, 0, 2), 2_000_000, 1),
        (1, (0, 0, 0, 2, 0), 0, 1),
        (0, (0, 0, 0, 1, 2), 0, 1),
    )
    drawn = Columns(((1, 3), (0, 2)), rows, (0, 0), (2,))

    assert not choices(drawn)
    assert chosen_of(drawn, 10**9).verdict == "impossible"


@given(columns())
def test_a_programme_ends_with_its_time(drawn: Columns) -> None:
    packing, cancel = packing_of(drawn), Cancel()
    cancel.cancel()
    assert PackingProgramme(packing, Deadline(60_000, cancel)).solve() is None


@given(columns())
def test_prices_and_cuts_never_prove_more_than_is_true(drawn: Columns) -> None:
    packing = packing_of(drawn)
    proof = relax(packing, NEVER, Deadline(60_000))
    for rows in choices(drawn):
        cost = packing.scale * sum(drawn.rows[n][2] for n in rows)

        assert proof.bound + sum(proof.above[rows].tolist()) <= cost


@given(columns(), st.lists(st.integers(0, 50), min_size=40, max_size=40))
def test_any_prices_prove_a_bound(drawn: Columns, prices: list[int]) -> None:
    packing = packing_of(drawn)
    own = [price * packing.scale // 10 for price in prices[: len(packing.rows)]]
    proof = relaxed(packing, packing.rows, own)
    costs = [sum(drawn.rows[n][2] for n in rows) for rows in choices(drawn)]

    assert all(proof.bound <= cost * packing.scale for cost in costs)


def _rows(*rows: list[int]) -> list[Usage]:
    return [Usage.once(np.array(own)) for own in rows]


def test_halves_of_three_columns_that_share_three_rows_in_pairs_are_cut_off() -> None:
    """Of columns that pairwise share a row one can be chosen, though a half of each fits."""
    rows = _rows([0, 1], [1, 2], [0, 2])
    (cut,) = cuts_of(broken_triples(rows, np.array([0.5, 0.5, 0.5])))

    assert cut.rows.tolist() == [0, 1, 2]


def test_a_whole_choice_breaks_no_cut() -> None:
    rows = _rows([0, 1], [1, 2], [0, 2])

    assert not broken_triples(rows, np.array([1.0, 0.0, 0.0]))


def test_a_column_that_uses_all_three_rows_is_counted_once() -> None:
    rows = _rows([0, 1, 3], [1, 2, 3], [0, 2, 3])
    (cut,) = cuts_of([tuple(rows)])

    assert not broken_triples(rows, np.array([0.0, 0.0, 0.0, 1.0]))
    assert cut.rows.tolist() == [0, 1, 2, 3]


def test_blocks_that_lack_cost_nothing_while_stacks_do() -> None:
    programme = Programme(Quota(np.zeros(2, np.int64), (2,)), [], dearest=1000.0)
    counted = programme.equation(7.0, (1.0, -1.0), free=1.0)
    programme.begin(10.0)
    programme.column(1.0, 0, [(counted, 3.0)])
    # The other demand has no column, and no larger stack of the first makes up for its blocks.
    assert programme.solve(Deadline(60_000))
    assert programme.duals()[counted] == 0
    # Once both are served, a block too few is paid for.
    programme.column(1.0, 1, [(counted, 3.0)])
    assert programme.solve(Deadline(60_000))
    assert programme.raise_artificials()
    assert programme.solve(Deadline(60_000))
    assert programme.duals()[counted] > 0
