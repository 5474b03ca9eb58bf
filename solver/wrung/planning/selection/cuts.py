"""Cuts: inequalities that whole choices keep and fractional ones may violate.

Of three rows that there is one of each, a choice takes no more than one column that uses two of
them: two such columns would use four. (Rank-one cuts with a half of each row: Chvátal and Gomory;
as subset-row cuts Jepsen, Petersen, Spoorendonk and Pisinger, *Operations Research* 56, 2008.)
"""

from collections import Counter
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from wrung.planning.candidates.stock import Ints
from wrung.planning.selection.set_packing import Rows
from wrung.tuning import TUNING, Tuning

Floats = npt.NDArray[np.float64]

_NOTHING: Final = 1e-6


def broken_triples(rows: Rows, parts: Floats, tuning: Tuning = TUNING) -> Ints:
    """Triples of rows whose cut the fractional columns violate, as an array of three columns.

    The most violated ones, chosen so that every row is in only a few of them.
    """
    used = np.flatnonzero(parts > _NOTHING)
    table, own = _table(rows, used, tuning.most_cut_rows)
    triples, broken = _sums(table, parts[used], tuning)
    order = np.argsort(-broken, kind="stable")
    chosen: list[Ints] = []
    each: Counter[int] = Counter()
    for triple in triples[order]:
        members = triple.tolist()
        if all(each[m] < tuning.cuts_a_row for m in members):
            each.update(members)
            chosen.append(own[triple])
            if len(chosen) == tuning.most_cuts:
                break
    return np.array(chosen, np.int64).reshape(len(chosen), 3)


def _table(rows: Rows, used: Ints, most_rows: int) -> tuple[Floats, Ints]:
    """Which of the used columns each row holds, and which rows these are."""
    place = np.full(int(rows.column.max(initial=0)) + 1, -1)
    used = used[used < len(place)]
    place[used] = np.arange(len(used))
    single = rows.there[rows.row] == 1
    entries = (place[rows.column] >= 0) & single
    # A row with only one column is part of no violated triple.
    count = np.bincount(rows.row[entries], minlength=len(rows))
    own = np.flatnonzero(count > 1)[:most_rows]
    number = np.full(len(rows), -1)
    number[own] = np.arange(len(own))
    entries &= number[rows.row] >= 0
    table = np.zeros((len(own), len(used)))
    table[number[rows.row[entries]], place[rows.column[entries]]] = 1.0
    return table, own


def _sums(table: Floats, parts: Floats, tuning: Tuning) -> tuple[Ints, Floats]:
    """Triples and how much each is violated."""
    pairs = (table * parts) @ table.T
    found: list[Ints] = []
    for one in range(len(table) - 2):
        rest = pairs[one, one + 1 :]
        sums = rest[:, None] + rest + pairs[one + 1 :, one + 1 :]
        two, three = np.nonzero(np.triu(sums > 1 + tuning.least_broken, 1))
        found.append(np.column_stack([np.full(len(two), one), two + one + 1, three + one + 1]))
    triples = np.concatenate(found) if found else np.zeros((0, 3), np.int64)
    sums = pairs[triples[:, 0], triples[:, 1]] + pairs[triples[:, 0], triples[:, 2]]
    sums += pairs[triples[:, 1], triples[:, 2]]
    best = np.argsort(-sums, kind="stable")[: tuning.most_triples]
    triples, sums = triples[best], sums[best]
    # A column that uses all three was counted three times.
    a, b, c = (table[triples[:, k]] for k in range(3))
    broken = sums - 2 * (a * b * c) @ parts - 1
    real = broken > tuning.least_broken
    return triples[real], broken[real]


def cut_rows(rows: Rows, triples: Ints) -> Rows:
    """The cuts of these triples, over all columns."""
    edges = np.searchsorted(rows.row, np.arange(len(rows) + 1))
    held = [rows.column[a:b] for a, b in pairwise(edges.tolist())]
    columns: list[Ints] = []
    numbers: list[list[int]] = triples.tolist()
    for triple in numbers:
        own, count = np.unique(np.concatenate([held[r] for r in triple]), return_counts=True)
        columns.append(own[count > 1])
    sizes = [len(own) for own in columns]
    column = np.concatenate([np.zeros(0, np.int64), *columns])
    return Rows(
        row=np.repeat(np.arange(len(triples)), sizes),
        column=column,
        times=np.ones(len(column), np.int64),
        there=np.ones(len(triples), np.int64),
    )
