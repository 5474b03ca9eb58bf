"""Cuts: inequalities that whole choices keep and fractional ones may violate.

Of three rows that there is one of each, a choice takes no more than one column that uses two of
them: two such columns would use four. (Rank-one cuts with a half of each row: Chvátal and Gomory;
as subset-row cuts Jepsen, Petersen, Spoorendonk and Pisinger, *Operations Research* 56, 2008.)
"""

from collections import Counter
from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np

from wrung.planning.candidates.stock import Ints
from wrung.planning.selection.choice import Usage
from wrung.planning.selection.programme import Floats
from wrung.tuning import TUNING, Tuning

Triple: TypeAlias = tuple[Usage, ...]

_NOTHING: Final = 1e-6


def broken_triples(rows: Sequence[Usage], parts: Floats, tuning: Tuning = TUNING) -> list[Triple]:
    """Triples of rows of one piece whose cut the fractional columns violate.

    The most violated ones, chosen so that every row is in only a few of them.
    """
    used = np.flatnonzero(parts > _NOTHING)
    table, own = _table(rows, used, len(parts), tuning.most_cut_rows)
    triples, broken = _sums(table, parts[used], tuning)
    chosen: list[Triple] = []
    each: Counter[int] = Counter()
    numbers: list[list[int]] = triples[np.argsort(-broken, kind="stable")].tolist()
    for triple in numbers:
        if all(each[m] < tuning.cuts_a_row for m in triple):
            each.update(triple)
            chosen.append(tuple(own[m] for m in triple))
            if len(chosen) == tuning.most_cuts:
                break
    return chosen


def _table(
    rows: Sequence[Usage], used: Ints, columns: int, most: int
) -> tuple[Floats, list[Usage]]:
    """Which of the used columns each row holds, and which rows these are."""
    place = np.full(columns, -1)
    place[used] = np.arange(len(used))
    own: list[Usage] = []
    table: list[Floats] = []
    for row in rows:
        held = place[row.rows]
        # A row with only one column is part of no violated triple.
        if (held >= 0).sum() > 1 and len(own) < most:
            own.append(row)
            table.append(np.zeros(len(used)))
            table[-1][held[held >= 0]] = 1.0
    return np.array(table).reshape(len(own), len(used)), own


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


def cuts_of(triples: Sequence[Triple]) -> list[Usage]:
    """The cuts of these triples, as rows over all columns."""
    cuts: list[Usage] = []
    for triple in triples:
        held, count = np.unique(np.concatenate([row.rows for row in triple]), return_counts=True)
        cuts.append(Usage.once(held[count > 1]))
    return cuts
