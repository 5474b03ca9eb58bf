"""Branching, held to every choice there is, with all of its ways of bounding and with few."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.offers import Columns, bench_of, candidates_of, choices, columns
from wrung.deadline import Deadline
from wrung.planning.selection import node as nodes
from wrung.planning.selection.branching import best_within
from wrung.planning.selection.duals import Covering, duals
from wrung.planning.selection.node import PricedNode, priced, priced_anew, whole
from wrung.planning.selection.pairs import fitting
from wrung.planning.selection.set_packing import SetPacking, set_packing_of
from wrung.tuning import Tuning

WAYS = {
    "all ways": (200, 70),
    "programmes only": (0, 0),
    "pairs only": (200, 200),
    "first prices only": (0, 200),
}


def packing_of(drawn: Columns) -> SetPacking:
    candidates = candidates_of(drawn)
    return set_packing_of(bench_of(drawn), candidates, drawn.quota(), candidates.errors)


def costs(drawn: Columns, limit: int) -> dict[tuple[int, ...], int]:
    """By choice within the limit, what it costs."""
    sums = {tuple(rows): sum(drawn.rows[n][2] for n in rows) for rows in choices(drawn)}
    return {rows: cost for rows, cost in sums.items() if cost <= limit}


def first_of(drawn: Columns) -> PricedNode | None:
    """The whole packing at no prices."""
    packing = packing_of(drawn)
    node = whole(packing, np.arange(len(packing)))
    return priced(node, np.zeros(len(node.left), np.int64)) if node is not None else None


@pytest.mark.parametrize("way", WAYS)
@given(drawn=columns(), limit=st.integers(0, 40))
def test_the_best_choice_within_a_limit_is_found(way: str, drawn: Columns, limit: int) -> None:
    """Some demands served or all, kinds with several pieces, demands that overlap in part."""
    packing, within = packing_of(drawn), costs(drawn, limit)
    tuning = Tuning(columns_in_pairs=WAYS[way][0], columns_as_they_are=WAYS[way][1])
    deadline = Deadline(60_000, tuning=tuning)
    verdict, best = best_within(packing, np.arange(len(packing)), limit, deadline)
    chosen: list[int] = best.tolist()

    assert verdict == ("best" if within else "impossible")
    assert not within or within[tuple(sorted(chosen))] == min(within.values())


@given(drawn=columns(), limit=st.integers(0, 40))
def test_it_is_found_where_every_programme_fails(drawn: Columns, limit: int) -> None:
    packing, within = packing_of(drawn), costs(drawn, limit)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nodes, "duals", lambda *_: None)
        deadline = Deadline(60_000, tuning=Tuning(columns_as_they_are=0))
        verdict, best = best_within(packing, np.arange(len(packing)), limit, deadline)

    assert verdict == ("best" if within else "impossible")
    assert not within or int(packing.costs[best].sum()) == min(within.values())


@given(drawn=columns(), limit=st.integers(0, 40))
def test_what_is_ruled_out_is_in_no_choice_within_the_limit(drawn: Columns, limit: int) -> None:
    """By prices, and by pairs."""
    packing, said, within = packing_of(drawn), first_of(drawn), costs(drawn, limit)
    if said is None:
        assert not within
        return
    most, held = limit * packing.scale, {n for rows in within for n in rows}
    anew = priced_anew(said, most, Deadline(60_000))
    for left in (fitting(said, most), anew.within(most), fitting(anew, most)):
        assert held <= set(left.node.columns.tolist() if left is not None else [])


@given(drawn=columns())
def test_a_programme_bounds_no_less_than_no_prices(drawn: Columns) -> None:
    """Its prices are the best there are, but for what rounding loses of them."""
    said, every = first_of(drawn), costs(drawn, 1000)
    if said is None or not every:
        return
    scale = packing_of(drawn).scale
    anew = priced_anew(said, 1000 * scale, Deadline(60_000))

    assert said.bound - scale // 1000 <= anew.bound <= min(every.values()) * scale


@given(drawn=columns(), limit=st.integers(0, 40), most=st.integers(0, 4))
def test_few_branches_claim_no_more_than_they_show(drawn: Columns, limit: int, most: int) -> None:
    packing, within = packing_of(drawn), costs(drawn, limit)
    every = np.arange(len(packing))
    verdict, best = best_within(packing, every, limit, Deadline(60_000), branches=most)
    chosen: list[int] = best.tolist()

    assert verdict not in ("best", "impossible") or verdict == ("best" if within else "impossible")
    assert not chosen or tuple(sorted(chosen)) in within


@given(drawn=columns())
def test_out_of_time_nothing_is_claimed(drawn: Columns) -> None:
    packing = packing_of(drawn)
    verdict, best = best_within(packing, np.arange(len(packing)), 1000, Deadline(0))

    assert verdict == "unknown"
    assert not len(best)


@given(drawn=columns())
def test_too_many_columns_are_left_unknown(drawn: Columns) -> None:
    packing = packing_of(drawn)
    every = np.arange(len(packing))
    tuning = Tuning(branch_cells=len(packing) * len(packing.rows) - 1)
    verdict, best = best_within(packing, every, 1000, Deadline(60_000, tuning=tuning))

    assert verdict == "unknown"
    assert not len(best)


def test_a_piece_that_two_demands_want_costs_what_doing_without_it_does() -> None:
    """Worked by hand: 2 with the piece, or 3 and 4 without it; one does without, so 2 + 3.

    Below a price of 1 both would take it, above 2 neither.
    """
    programme = Covering(
        costs=np.array([2.0, 3.0, 2.0, 4.0]),
        demands=np.array([0, 0, 1, 1]),
        table=np.array([[1, 0, 1, 0]]),
        there=np.array([1]),
        artificial=100.0,
    )
    prices = duals(programme, Deadline(60_000))

    assert prices is not None
    assert 1 - 1e-6 <= prices[0] <= 2 + 1e-6
    assert duals(programme, Deadline(0)) is None


def test_a_programme_that_the_solver_refuses_has_no_prices() -> None:
    programme = Covering(
        costs=np.array([np.nan]),
        demands=np.array([0]),
        table=np.array([[1]]),
        there=np.array([1]),
        artificial=100.0,
    )

    assert duals(programme, Deadline(60_000)) is None
