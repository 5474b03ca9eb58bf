"""How many demands the scarce fine pieces can serve: the pigeonhole behind most shortages.

A set has few pieces that carry its last decimals. The ways in which each demand may use them, its
*patterns*, are quickly enumerated; the number of patterns that fit side by side bounds the number
served.
"""

import math
from collections.abc import Collection, Sequence

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.goals import BLOCK, block_goal
from wrung.planning.candidates.quota import ByClass
from wrung.planning.candidates.search import Cap, Search, cap_limits
from wrung.planning.candidates.stock import NEVER, Ints, join_rows
from wrung.planning.candidates.supply import Tables
from wrung.planning.candidates.walk import (
    Candidates,
    Limit,
    distinct,
    no_candidates,
)
from wrung.planning.candidates.workbench import FREE, Workbench, begun, list_candidates
from wrung.planning.selection.choice import Choice, Selection


class Patterns(Struct, frozen=True, kw_only=True):
    """What each demand may use of the scarce pieces.

    Attributes:
        rows: one a pattern; one without pieces but with a count stands for all larger patterns
            of its demand. ByClass are of these pieces or, where the ways to begin are the patterns,
            of the pieces of the smallest whole stack.
        there: how many scarce pieces, wear pieces and step blocks there are; None where no
            pattern is left out.
    """

    rows: Candidates
    there: int | None


class Begun(Struct, frozen=True, kw_only=True):
    """Patterns as ways to begin a stack.

    Attributes:
        bench: its starts are the patterns.
        larger: one row per demand for all that are not among these.
        there: how many pieces both have together.
    """

    bench: Workbench
    larger: Candidates
    there: int


def pack(
    bench: Workbench,
    caps: Sequence[Cap],
    deadline: Deadline,
    known: ByClass | None = None,
    *,
    effort: float = math.inf,
) -> ByClass:
    """By class, how many demands plans within the caps can serve at most with the scarce pieces.

    No plan that serves as many of the classes before serves more. With ``known``, no plan is known
    to serve more than that. ``effort`` ends the search, too, see `Choice.solve`.
    """
    alone = known or bench.counts(np.unique(bench.starts.demands))
    patterns = patterns_of(bench, caps)
    if patterns is None:
        return alone
    choice, capped = _packing(bench, patterns), known is not None
    return choice.most_served(bench.quota(alone), deadline, effort=effort, capped=capped).counts


def pack_starts(
    bench: Workbench, caps: Sequence[Cap], deadline: Deadline, effort: float = math.inf
) -> tuple[ByClass, Ints]:
    """The same where starts have the finest pieces, and starts that serve as many side by side.

    Of all such starts, these have the fewest pieces; where the time or the effort ends before, they
    may serve fewer, with more pieces, or none.
    """
    starts, rows = _begun_patterns(bench, caps)
    alone = bench.quota(bench.counts(np.unique(bench.starts.demands)))
    choice = Choice(bench, rows, served=None)
    found = choice.most_served(alone, deadline, effort=effort, costs=rows.counts)
    return found.counts, starts[found.rows]


def one_more(
    bench: Workbench, patterns: Patterns, kinds: Collection[int], deadline: Deadline
) -> Selection:
    """Of which kind one more piece lets the most patterns fit side by side, and how many."""
    choice, each = _packing(bench, patterns, kinds), np.ones(len(patterns.rows), np.int64)
    effort = deadline.tuning.effort_for_packing
    return choice.solve("largest_sum", each, deadline, effort=effort, presolve=True)


def patterns_of(bench: Workbench, caps: Sequence[Cap]) -> Patterns | None:
    """What each demand may use of the scarce pieces; None if there is too much to list."""
    if bench.spelt_out:
        return Patterns(rows=_begun_patterns(bench, caps)[1], there=None)
    return scarce_patterns(bench, caps)


def _packing(bench: Workbench, patterns: Patterns, spare: Collection[int] = ()) -> Choice:
    choice = Choice(bench, patterns.rows, served=None, spare=spare)
    if patterns.there is not None:
        # All patterns together use no more than there is; this limits those not spelt out, too.
        there = patterns.there + (1 if spare else 0)
        for clique in bench.problem.cliques:
            inside = np.isin(patterns.rows.demands, clique)
            choice.limit_sum(np.where(inside, patterns.rows.counts, 0), there)
    return choice


def _begun_patterns(bench: Workbench, caps: Sequence[Cap]) -> tuple[Ints, Candidates]:
    """Every start of a stack, and a row for it with the pieces of the smallest such stack."""
    starts = bench.starts
    goal = block_goal(bench.stock, starts)
    least = Search(bench, goal, None, caps).least_by_start()
    rows = np.flatnonzero(least < FREE)
    own = Candidates(
        demands=starts.demands[rows],
        kinds=starts.begun[rows],
        counts=least[rows] // BLOCK,
        errors=np.zeros(len(rows), np.int64),
    )
    return rows, own


def scarce_patterns(bench: Workbench, caps: Sequence[Cap]) -> Patterns | None:
    """The patterns over as many of the finest levels as can be enumerated; None if over none."""
    # More levels rule out more, but fewer levels have fewer patterns to list.
    for depth in _depths(bench):
        patterns = _patterns(bench, caps, depth)
        if patterns is not None:
            return patterns
    return None


def _depths(bench: Workbench) -> list[int]:
    """Numbers of finest levels whose pieces are few, the most first."""
    tuning = bench.deadline.tuning
    scarce = tuning.scarce_each * len(bench.problem.demands) + tuning.scarce_beside
    levels = enumerate(bench.layout.levels, start=1)
    return [depth for depth, level in levels if 0 < level.last <= scarce][::-1]


def begun_by_patterns(bench: Workbench, caps: Sequence[Cap], more: Ints) -> Begun | None:
    """The patterns over as many levels as can be enumerated, as ways to begin a stack.

    By demand, those with so many more pieces than usual are enumerated, too.
    """
    if bench.spelt_out:
        return Begun(bench=bench, larger=no_candidates(), there=0)
    tuning = bench.deadline.tuning
    for depth in _depths(bench):
        if bench.layout.following(depth) is None:
            continue
        limits = _limits(bench, caps, depth, more)
        found = begun(bench, limits, depth, tuning.most_partial_patterns) if limits else None
        if found is not None and len(found.starts.demands) <= tuning.most_patterns:
            larger = _larger(bench, limits[0].most)
            return Begun(bench=found, larger=larger, there=_there(bench, depth))
    return None


def _there(bench: Workbench, depth: int) -> int:
    """Pieces of so many levels, wear pieces, and one step of each body."""
    stock = bench.stock
    ends = (
        stock.capacities[stock.gauges : stock.steps].sum() + stock.capacities[stock.bodies :].sum()
    )
    return bench.layout.levels[depth - 1].last + int(ends)


def _limits(
    bench: Workbench, caps: Sequence[Cap], depth: int, more: Ints | None = None
) -> list[Limit]:
    """On the pieces of so many levels, then those of the caps; none if there is no time."""
    last = bench.layout.levels[depth - 1].last
    fine = (np.arange(len(bench.layout.kinds)) < last).astype(np.int64)
    tables = Tables(bench.layout, bench.reach, bench.deadline)
    table = tables.of(fine[None], lasting=False)
    if table.cut:
        return []
    none = np.zeros_like(bench.starts.demands)
    least = table.least(bench.starts.steps, none)
    # What cannot be built is within no limit.
    most = np.where(least >= FREE, -1, least + bench.deadline.tuning.spare_of_scarce)
    if more is not None:
        most += np.where(most >= 0, more[bench.starts.demands], 0)
    first = Limit(table=table, ways=none, spent=none, most=most)
    return [first, *(limit for cap in caps for limit in cap_limits(bench, cap, tables))]


def _patterns(bench: Workbench, caps: Sequence[Cap], depth: int) -> Patterns | None:
    limits = _limits(bench, caps, depth)
    most_partial = bench.deadline.tuning.most_partial_patterns
    found = list_candidates(bench, limits, most_partial, levels=depth) if limits else None
    own = None if found is None else _distinct(found.candidates, bench)
    if own is None or len(own) > bench.deadline.tuning.most_patterns:
        return None
    rows = join_rows([own, _larger(bench, limits[0].most)])
    return Patterns(rows=rows, there=_there(bench, depth))


def _distinct(found: Candidates, bench: Workbench) -> Candidates | None:
    """Each pattern once; None if there are too many, or the time is up."""
    ways = np.bincount(bench.starts.demands)
    # A walk meets no pattern twice from one start, and most demands have only one start.
    if (ways <= 1).all():
        return found
    if len(found) > bench.deadline.tuning.most_patterns * int(ways.max()) or bench.deadline.passed:
        return None
    return distinct(found)


def _larger(bench: Workbench, most: Ints) -> Candidates:
    """One row per demand for the patterns not enumerated: by start, they have more pieces."""
    starts, least = bench.starts, np.full(len(bench.problem.demands), NEVER)
    built = most >= 0
    np.minimum.at(least, starts.demands[built], (most + 1 + starts.counts)[built])
    own = np.flatnonzero(least < NEVER)
    return Candidates(
        demands=own,
        kinds=np.full((len(own), 1), -1, dtype=np.int64),
        counts=least[own],
        errors=np.zeros(len(own), np.int64),
    )
