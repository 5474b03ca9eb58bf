"""Small offers of columns, and every choice from them."""

from datetime import timedelta
from itertools import product

import numpy as np
from hypothesis import strategies as st
from msgspec import Struct

from wrung import LengthTarget, mm
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import by_nominal
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench, set_up
from wrung.planning.problem import build_problem
from wrung.testing import SHIFT, make_blocks

# Kinds of one, two and three pieces.
SHELF = "1 2 3 5 5 7 7 7"
CAPACITIES = (1, 1, 1, 2, 3)
HOURS = ((0, 2), (1, 3), (2, 4), (0, 4))


class Columns(Struct, frozen=True):
    """Columns for demands that overlap in time, some of them; two costs for each.

    Of the demands of each class, so many are served.
    """

    hours: tuple[tuple[int, int], ...]
    rows: tuple[tuple[int, tuple[int, ...], int, int], ...]
    classes: tuple[int, ...]
    counts: tuple[int, ...]

    def quota(self) -> Quota:
        """How many of each class are served."""
        return Quota(np.array(self.classes), self.counts)


@st.composite
def columns(draw: st.DrawFn) -> Columns:
    hours = draw(st.lists(st.sampled_from(HOURS), min_size=1, max_size=4))
    kinds = st.tuples(*(st.integers(0, min(there, 2)) for there in CAPACITIES))
    each = st.tuples(st.integers(0, len(hours) - 1), kinds, st.integers(0, 9), st.integers(1, 3))
    rows = draw(st.lists(each, min_size=1, max_size=14))
    classes = [0 for _ in hours]
    if draw(st.booleans()):
        classes = draw(st.lists(st.integers(0, 1), min_size=len(hours), max_size=len(hours)))
    sizes = [classes.count(number) for number in range(max(classes) + 1)]
    possible = product(*(range(size + 1) for size in sizes))
    counts = draw(st.sampled_from([each for each in possible if any(each)]))
    return Columns(tuple(hours), tuple(rows), tuple(classes), counts)


def bench_of(drawn: Columns) -> Workbench:
    targets = [
        LengthTarget(
            ref=f"t{n}",
            length=mm("6"),
            needed_from=SHIFT + timedelta(hours=start),
            needed_until=SHIFT + timedelta(hours=end),
        )
        for n, (start, end) in enumerate(drawn.hours)
    ]
    problem = build_problem(
        Order(
            blocks=make_blocks(SHELF), targets=targets, objective="fewest_blocks", joint_allowance=0
        )
    )
    bench = set_up(problem, by_nominal(problem), Deadline(60_000))
    assert bench is not None
    assert tuple(bench.stock.capacities.tolist()) == CAPACITIES
    return bench


def candidates_of(drawn: Columns) -> Candidates:
    used = [[k for k, times in enumerate(row[1]) for _ in range(times)] for row in drawn.rows]
    width = max(len(kinds) for kinds in used) + 1
    return Candidates(
        demands=np.array([row[0] for row in drawn.rows], np.int64),
        kinds=np.array([[*kinds, *[-1] * (width - len(kinds))] for kinds in used], np.int64),
        counts=np.array([row[3] for row in drawn.rows], np.int64),
        errors=np.array([row[2] for row in drawn.rows], np.int64),
    )


def choices(drawn: Columns) -> list[list[int]]:
    """Every choice of so many columns side by side."""
    own = [
        [None, *(n for n, row in enumerate(drawn.rows) if row[0] == demand)]
        for demand in range(len(drawn.hours))
    ]
    chosen = [sorted(n for n in pick if n is not None) for pick in product(*own)]
    return [rows for rows in chosen if _served(drawn, rows) == drawn.counts and _fits(drawn, rows)]


def _served(drawn: Columns, chosen: list[int]) -> tuple[int, ...]:
    classes = [drawn.classes[drawn.rows[n][0]] for n in chosen]
    return tuple(classes.count(number) for number in range(len(drawn.counts)))


def _fits(drawn: Columns, chosen: list[int]) -> bool:
    for hour in range(4):
        inside = [
            drawn.rows[n][1]
            for n in chosen
            if drawn.hours[drawn.rows[n][0]][0] <= hour < drawn.hours[drawn.rows[n][0]][1]
        ]
        used = np.array(inside, np.int64).reshape(len(inside), len(CAPACITIES)).sum(axis=0)
        if (used > CAPACITIES).any():
            return False
    return True
