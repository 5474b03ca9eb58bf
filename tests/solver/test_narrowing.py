"""The best of many candidates, held to every choice there is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from solver.offers import Columns, bench_of, candidates_of, choices, columns
from wrung.deadline import Cancel, Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.selection.choice import Selection
from wrung.planning.selection.cuts import broken_triples, cut_rows
from wrung.planning.selection.narrowing import least_choice
from wrung.planning.selection.priced_model import choose_within
from wrung.planning.selection.programme import Programme
from wrung.planning.selection.relaxing import PackingProgramme, relax
from wrung.planning.selection.set_packing import (
    Rows,
    join_rows,
    lagrangian_bound,
    limit_row,
    set_packing_of,
)
from wrung.tuning import Tuning


def chosen_of(drawn: Columns, most: int) -> Selection:
    candidates = candidates_of(drawn)
    costs, deadline = candidates.errors, Deadline(60_000)
    return least_choice(
        bench_of(drawn), candidates, drawn.quota(), costs, most=most, deadline=deadline
    )


@given(drawn=columns())
def test_the_least_choice_is_the_best_of_all(drawn: Columns) -> None:
    """With pieces that there are several of, and demands that overlap in part."""
    values = [sum(drawn.rows[n][2] for n in rows) for rows in choices(drawn)]
    selection = chosen_of(drawn, 1000)
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


@pytest.mark.parametrize("at_once", [0.0, 1.0])
@given(drawn=columns(), limit=st.integers(0, 20))
def test_a_choice_within_a_limit_is_found_where_there_is_one(
    at_once: float, drawn: Columns, limit: int
) -> None:
    """At once, and where that is given no effort."""
    candidates = candidates_of(drawn)
    deadline = Deadline(60_000, tuning=Tuning(effort_at_once=at_once))
    packing = set_packing_of(bench_of(drawn), candidates, drawn.quota(), candidates.errors)
    reason = replace(relax(packing, NEVER, deadline), most=limit * packing.scale)
    within = [rows for rows in choices(drawn) if sum(drawn.rows[n][2] for n in rows) <= limit]
    verdict, chosen = choose_within(packing, reason, limit, deadline)
    rows: list[int] = chosen.tolist()

    assert (verdict == "impossible") == (not within)
    assert verdict != "unknown"
    assert sorted(rows) in within or verdict == "impossible"


@given(columns())
def test_a_programme_ends_with_its_time(drawn: Columns) -> None:
    candidates = candidates_of(drawn)
    packing = set_packing_of(bench_of(drawn), candidates, drawn.quota(), candidates.errors)
    cancel = Cancel()
    cancel.cancel()
    if packing.quota.possible:
        assert PackingProgramme(packing).solve(Deadline(60_000, cancel)) is None


@given(columns())
def test_prices_and_cuts_never_prove_more_than_is_true(drawn: Columns) -> None:
    candidates = candidates_of(drawn)
    packing = set_packing_of(bench_of(drawn), candidates, drawn.quota(), candidates.errors)
    relaxed = relax(packing, NEVER, Deadline(60_000))
    best = min((sum(drawn.rows[n][2] for n in rows) for rows in choices(drawn)), default=None)
    if best is None:
        return
    optimal = [rows for rows in choices(drawn) if sum(drawn.rows[n][2] for n in rows) == best]
    left = replace(relaxed, most=best * packing.scale).columns()

    assert relaxed.proof.bound <= best * packing.scale
    # Every best choice is left, whatever else is not.
    assert all(set(rows) <= set(left.tolist()) for rows in optimal)


@given(columns(), st.lists(st.integers(0, 50), min_size=40, max_size=40))
def test_any_prices_prove_a_bound(drawn: Columns, prices: list[int]) -> None:
    candidates = candidates_of(drawn)
    packing = set_packing_of(bench_of(drawn), candidates, drawn.quota(), candidates.errors)
    own = np.array(prices[: len(packing.rows)], np.int64) * packing.scale // 10
    proof = lagrangian_bound(packing, packing.rows, own)
    costs = [sum(drawn.rows[n][2] for n in rows) for rows in choices(drawn)]

    assert all(proof.bound <= cost * packing.scale for cost in costs)


@given(columns(), st.sampled_from((1, 10**6, 10**9)))
def test_a_proof_adds_up_in_whole_numbers(drawn: Columns, weight: int) -> None:
    """However large the weights of a limited sum are."""
    candidates = candidates_of(drawn)
    packing = set_packing_of(bench_of(drawn), candidates, drawn.quota(), candidates.errors)
    limit = limit_row(weight * candidates.counts + 1, 2 * weight)
    limited = replace(packing, rows=join_rows(packing.rows, limit))
    one = relax(limited, NEVER, Deadline(60_000))
    rows = zip(
        one.rows.row.tolist(), one.rows.column.tolist(), one.rows.times.tolist(), strict=True
    )
    paid = [limited.scale * cost for cost in limited.costs.tolist()]
    for row, column, times in rows:
        paid[column] += int(one.prices[row]) * times
    assert paid == one.proof.priced.tolist()


def _rows(*rows: list[int]) -> Rows:
    return Rows(
        row=np.array([n for n, own in enumerate(rows) for _ in own], np.int64),
        column=np.array([column for own in rows for column in own], np.int64),
        times=np.ones(sum(len(own) for own in rows), np.int64),
        there=np.ones(len(rows), np.int64),
    )


def test_halves_of_three_columns_that_share_three_rows_in_pairs_are_cut_off() -> None:
    """Of columns that pairwise share a row one can be chosen, though a half of each fits."""
    rows = _rows([0, 1], [1, 2], [0, 2])
    triples = broken_triples(rows, np.array([0.5, 0.5, 0.5]))
    cuts = cut_rows(rows, triples)

    assert triples.tolist() == [[0, 1, 2]]
    assert _columns(cuts, 0) == [0, 1, 2]


def test_a_whole_choice_breaks_no_cut() -> None:
    rows = _rows([0, 1], [1, 2], [0, 2])

    assert not len(broken_triples(rows, np.array([1.0, 0.0, 0.0])))


def test_a_column_that_uses_all_three_rows_is_counted_once() -> None:
    rows = _rows([0, 1, 3], [1, 2, 3], [0, 2, 3])

    assert not len(broken_triples(rows, np.array([0.0, 0.0, 0.0, 1.0])))
    assert _columns(cut_rows(rows, np.array([[0, 1, 2]])), 0) == [0, 1, 2, 3]


def _columns(rows: Rows, row: int) -> list[int]:
    own: Ints = rows.column[rows.row == row]
    return sorted(own.tolist())


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
