"""How many demands the scarce fine pieces can serve: the pigeonhole behind most shortages.

A set has few pieces that carry its last decimals. What each demand may use of them, its
*pattern*, is soon enumerated; how many patterns fit beside one another bounds the number served.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from msgspec import Struct

from wrung.planning.candidates.search import Cap, cap_limits
from wrung.planning.candidates.stock import NEVER, Ints
from wrung.planning.candidates.tables import build_table
from wrung.planning.candidates.walk import Candidates, Limit, enumerate_candidates, join_candidates
from wrung.planning.candidates.workbench import FREE, Workbench
from wrung.planning.deadline import Deadline
from wrung.planning.selection.choice import Choice

_MOST_PATTERNS: Final = 4_000
_MOST_PARTIAL: Final = 100_000
_SPARE: Final = 2
"""Patterns are enumerated to this many pieces more than a demand needs."""


class Patterns(Struct, frozen=True, kw_only=True):
    """What each demand may use of the scarce pieces.

    Attributes:
        rows: one a pattern; one without pieces but with a count stands for all larger patterns
            of its demand.
        there: scarce pieces and wear pieces that there are.
    """

    rows: Candidates
    there: int


def most_served(bench: Workbench, caps: Sequence[Cap], deadline: Deadline) -> int:
    """No plan within the caps serves more demands than this."""
    alone = len(np.unique(bench.starts.demands))
    patterns = scarce_patterns(bench, caps)
    if patterns is None:
        return alone
    choice = Choice(bench, patterns.rows, served=None)
    # All patterns together use no more than there is; this limits those not spelt out, too.
    for crowd in bench.problem.crowds:
        inside = np.isin(patterns.rows.demands, crowd)
        choice.limit_sum(np.where(inside, patterns.rows.counts, 0), patterns.there)
    selection = choice.solve("most_served", patterns.rows.counts, deadline)
    return alone if selection.verdict == "unknown" else min(alone, selection.bound)


def scarce_patterns(bench: Workbench, caps: Sequence[Cap]) -> Patterns | None:
    """The patterns over as many of the finest levels as can be enumerated; None if over none."""
    scarce = 3 * len(bench.problem.demands) + 6
    depths = [d for d, v in enumerate(bench.layout.levels, start=1) if 0 < v.last <= scarce]
    # More levels rule out more, but fewer levels have fewer patterns to list.
    for depth in reversed(depths):
        patterns = _patterns(bench, caps, depth)
        if patterns is not None:
            return patterns
    return None


def _patterns(bench: Workbench, caps: Sequence[Cap], depth: int) -> Patterns | None:
    starts, layout = bench.starts, bench.layout
    last = layout.levels[depth - 1].last
    fine = (np.arange(len(layout.kinds)) < last).astype(np.int64)
    table = build_table(layout, fine, bench.reach, bench.deadline)
    if table.cut:
        return None
    least = table.least(starts.steps)
    # What cannot be built keeps to no limit.
    most = np.where(least >= FREE, -1, least + _SPARE)
    limits = [Limit(table=table, spent=np.zeros(len(least), np.int64), most=most)]
    limits += [limit for cap in caps for limit in cap_limits(bench, cap)]
    found = enumerate_candidates(
        bench.stock, layout, starts, limits, _MOST_PARTIAL, bench.deadline, levels=depth
    )
    own = None if found is None else _distinct(found, bench)
    if own is None or len(own) > _MOST_PATTERNS:
        return None
    larger = _larger(starts.demands[most >= 0], (most + 1 + starts.counts)[most >= 0])
    wear = int(bench.stock.capacities[bench.stock.gauges :].sum())
    return Patterns(rows=join_candidates([own, larger]), there=last + wear)


def _distinct(found: Candidates, bench: Workbench) -> Candidates | None:
    """Each pattern once; None if they are too many, or the time is up."""
    ways = np.bincount(bench.starts.demands)
    # A walk meets no pattern twice from one start, and mostly a demand has no other.
    if (ways <= 1).all():
        return found
    if len(found) > _MOST_PATTERNS * int(ways.max()) or bench.deadline.passed:
        return None
    kinds = np.sort(found.kinds, axis=1)
    own = np.ascontiguousarray(np.column_stack([found.demands, kinds]))
    # Rows as strings of bytes: a third of the time that comparing them number by number takes.
    rows = own.view(np.dtype((np.void, own.shape[1] * own.itemsize))).ravel()
    _, first = np.unique(rows, return_index=True)
    return found.where(np.sort(first))


def _larger(demands: Ints, pieces: Ints) -> Candidates:
    """A row a demand for the patterns beyond those enumerated: they need so many pieces."""
    least = np.full(int(demands.max(initial=-1)) + 1, NEVER)
    np.minimum.at(least, demands, pieces)
    own = np.unique(demands)
    return Candidates(
        demands=own,
        kinds=np.full((len(own), 1), -1, dtype=np.int64),
        counts=least[own],
        errors=np.zeros(len(own), np.int64),
    )
