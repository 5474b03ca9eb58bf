"""The best of many candidates, held to every choice there is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.offers import Columns, bench_of, candidates_of, choices, columns
from wrung.deadline import Cancel, Deadline
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import NEVER
from wrung.planning.selection.choice import Selection
from wrung.planning.selection.narrowing import least_choice
from wrung.planning.selection.programme import Programme
from wrung.planning.selection.set_packing import (
    PackingProgramme,
    SetPacking,
    relaxed,
    set_packing_of,
)
from wrung.tuning import TUNING, Tuning


def packing_of(drawn: Columns) -> SetPacking | None:
    candidates = candidates_of(drawn)
    return set_packing_of(bench_of(drawn), candidates, drawn.quota(), candidates.errors)


def chosen_of(drawn: Columns, most: int, tuning: Tuning = TUNING) -> Selection:
    """Of choices that cost as little, one of the fewest pieces."""
    candidates = candidates_of(drawn)
    costs, deadline = candidates.errors, Deadline(60_000, tuning=tuning)
    return least_choice(
        bench_of(drawn),
        candidates,
        drawn.quota(),
        costs,
        most=most,
        fewest=True,
        deadline=deadline,
    )


@pytest.mark.parametrize("few", [0, 100])
@given(drawn=columns())
def test_the_least_choice_is_the_best_of_all(few: int, drawn: Columns) -> None:
    """With pieces that there are several of, and demands that overlap in part.

    With prices worked out at every node, and without.
    """
    values = [_cost_and_size(drawn, rows) for rows in choices(drawn)]
    selection = chosen_of(drawn, 1000, Tuning(columns_as_they_are=few, narrow_each=1))
    if not values:
        assert selection.verdict == "impossible"
        return
    rows: list[int] = selection.rows.tolist()

    assert selection.verdict == "best"
    assert sorted(rows) in choices(drawn)
    assert _cost_and_size(drawn, rows) == min(values)
    assert selection.value == selection.bound == min(values)[0]


def _cost_and_size(drawn: Columns, rows: list[int]) -> tuple[int, int]:
    return sum(drawn.rows[n][2] for n in rows), sum(drawn.rows[n][3] for n in rows)


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
    if packing is not None:
        programme = PackingProgramme(packing, Deadline(60_000, cancel))
        assert programme.prices(np.arange(len(packing.costs)), NEVER) is None


@given(columns(), st.lists(st.integers(0, 50), min_size=40, max_size=40))
def test_any_prices_prove_a_bound(drawn: Columns, prices: list[int]) -> None:
    packing = packing_of(drawn)
    if packing is None:
        assert not choices(drawn)
        return
    own = np.array(prices[: len(packing.capacities)]) * packing.scale // 10
    own[-1] = 0
    proof = relaxed(packing, np.arange(len(packing.costs)), own)
    place = {candidate: n for n, candidate in enumerate(packing.candidates.tolist())}
    for rows in choices(drawn):
        cost = packing.scale * sum(drawn.rows[n][2] for n in rows)

        assert proof.bound + sum(int(proof.above[place[n]]) for n in rows) <= cost


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
