"""How many demands the scarce fine pieces can serve: the pigeonhole behind most shortages.

A set has few pieces that carry its last decimals. The ways in which each demand may use them, its
*patterns*, are quickly enumerated; the number of patterns that fit side by side bounds the number
served.
"""

from collections.abc import Collection, Iterator, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.goals import BLOCK, block_goal
from wrung.planning.candidates.quota import ByClass, Quota
from wrung.planning.candidates.search import Cap, Search, cap_limits
from wrung.planning.candidates.starts import Starts
from wrung.planning.candidates.stock import NEVER, Ints, join_rows
from wrung.planning.candidates.supply import Tables
from wrung.planning.candidates.walk import Candidates, Limit, distinct, no_candidates
from wrung.planning.candidates.workbench import FREE, Workbench, begun, list_candidates
from wrung.planning.selection.choice import Choice, Selection


class Patterns(Struct, frozen=True, kw_only=True):
    """What each demand may use of the scarce pieces.

    Attributes:
        rows: one a pattern; one without pieces but with a count stands for all larger patterns
            of its demand. Counts are of these pieces or, where the ways to begin are the patterns,
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
        there: as in `Patterns`.
    """

    bench: Workbench
    larger: Candidates
    there: int | None


def pack(
    bench: Workbench,
    caps: Sequence[Cap],
    deadline: Deadline,
    known: ByClass | None = None,
) -> ByClass:
    """By class, how many demands plans within the caps can serve at most with the scarce pieces.

    No plan that serves as many of the classes before serves more. With ``known``, no plan is known
    to serve more than that.
    """
    alone = known or bench.counts(np.unique(bench.starts.demands))
    patterns = patterns_of(bench, caps)
    if patterns is None:
        return alone
    choice, effort = packing(bench, patterns), deadline.tuning.effort_for_packing
    found = choice.most_served(
        bench.quota(alone), deadline, effort=effort, capped=known is not None
    )
    return found.counts


def pack_starts(bench: Workbench, caps: Sequence[Cap], deadline: Deadline) -> tuple[ByClass, Ints]:
    """The same where starts have the finest pieces, and starts that serve as many side by side.

    Of all such starts, these have the fewest pieces; where the time or the effort ends before, they
    may serve fewer, with more pieces, or none.
    """
    starts, rows = _begun_patterns(bench, caps)
    alone = bench.quota(bench.counts(np.unique(bench.starts.demands)))
    choice, effort = Choice(bench, rows, served=None), deadline.tuning.effort_for_packing
    found = choice.most_served(alone, deadline, effort=effort, costs=rows.counts)
    return found.counts, starts[found.rows]


def one_more(
    bench: Workbench, patterns: Patterns, kinds: Collection[int], deadline: Deadline
) -> Selection:
    """Of which kind one more piece lets the most patterns fit side by side.

    Each pattern costs -1.
    """
    choice, each = packing(bench, patterns, spare=kinds), np.ones(len(patterns.rows), np.int64)
    effort = deadline.tuning.effort_for_packing
    return choice.solve("least_sum", -each, deadline, effort=effort, presolve=True)


def packing(
    bench: Workbench, patterns: Patterns, served: Quota | None = None, spare: Collection[int] = ()
) -> Choice:
    """Of each demand at most one pattern, side by side; the rest as for `Choice`."""
    choice = Choice(bench, patterns.rows, served, spare)
    if patterns.there is not None:
        # All patterns together use no more than there is; this limits those not spelt out, too.
        there = patterns.there + (1 if spare else 0)
        for clique in bench.problem.cliques:
            inside = np.isin(patterns.rows.demands, clique)
            choice.limit_sum(np.where(inside, patterns.rows.counts, 0), there)
    return choice


def _begun_patterns(bench: Workbench, caps: Sequence[Cap]) -> tuple[Ints, Candidates]:
    """Every start of a stack, and a row for it with the pieces of the smallest such stack."""
    goal = block_goal(bench.stock, bench.starts)
    least = Search(bench, goal, caps).least_by_start()
    places, rows = begun_rows(bench.starts, least)
    return places, replace(rows, counts=least[places] // BLOCK)


def begun_rows(starts: Starts, least: Ints) -> tuple[Ints, Candidates]:
    """The starts of some stack, given the least that these cost, and a row for each as it is."""
    places = np.flatnonzero(least < FREE)
    own = starts.where(places)
    none = np.zeros(len(places), np.int64)
    rows = Candidates(demands=own.demands, kinds=own.begun, counts=own.counts, errors=none)
    return places, rows


def patterns_of(bench: Workbench, caps: Sequence[Cap]) -> Patterns | None:
    """What each demand may use of the scarce pieces; None if there is too much to list.

    Over as many of the finest levels as can be enumerated, unless starts spell the patterns out.
    """
    if bench.spelt_out:
        return Patterns(rows=_begun_patterns(bench, caps)[1], there=None)
    tuning, none = bench.deadline.tuning, np.zeros(len(bench.problem.demands), np.int64)
    # Patterns of one start all differ, and most demands have only one.
    most = tuning.most_patterns * int(np.bincount(bench.starts.demands).max(initial=1))
    for depth, limits in _limits(bench, caps, none):
        found = list_candidates(bench, limits, tuning.most_partial_patterns, levels=depth)
        if found is None or len(found.candidates) > most:
            continue
        own = distinct(found.candidates)
        if len(own) <= tuning.most_patterns:
            rows = join_rows([own, _larger(bench, limits[0].most)])
            return Patterns(rows=rows, there=_there(bench, depth))
    return None


def begun_by_patterns(bench: Workbench, caps: Sequence[Cap], more: Ints) -> Begun | None:
    """The patterns over as many levels as can be enumerated, as ways to begin a stack.

    By demand, those with so many more pieces than usual are enumerated, too.
    """
    if bench.spelt_out:
        return Begun(bench=bench, larger=no_candidates(), there=None)
    tuning = bench.deadline.tuning
    for depth, limits in _limits(bench, caps, more):
        if bench.layout.following(depth) is None:
            continue
        found = begun(bench, limits, depth, tuning.most_partial_patterns)
        if found is not None and len(found.starts) <= tuning.most_patterns:
            larger = _larger(bench, limits[0].most)
            there = _there(bench, depth) if len(larger) else None
            return Begun(bench=found, larger=larger, there=there)
    return None


def _there(bench: Workbench, depth: int) -> int:
    """Pieces of so many levels, wear pieces, and one step of each body."""
    stock = bench.stock
    ends = (
        stock.capacities[stock.gauges : stock.steps].sum() + stock.capacities[stock.bodies :].sum()
    )
    return bench.layout.levels[depth - 1].last + int(ends)


def _limits(bench: Workbench, caps: Sequence[Cap], more: Ints) -> Iterator[tuple[int, list[Limit]]]:
    """Numbers of finest levels whose pieces are few, and limits on these pieces and of the caps.

    More levels, which come first, rule out more, but fewer levels have fewer patterns to list.
    """
    tuning, starts = bench.deadline.tuning, bench.starts
    scarce = tuning.scarce_each * len(bench.problem.demands) + tuning.scarce_beside
    tables, none = Tables(bench.layout, bench.reach, bench.deadline), np.zeros_like(starts.demands)
    capped = [limit for cap in caps for limit in cap_limits(bench, cap, tables)]
    for depth in range(len(bench.layout.levels), 0, -1):
        last = bench.layout.levels[depth - 1].last
        if 0 < last <= scarce:
            fine = (np.arange(len(bench.layout.kinds)) < last).astype(np.int64)
            table = tables.of(fine[None], lasting=False)
            least = table.least(starts.steps, none)
            most = least + tuning.spare_of_scarce + more[starts.demands]
            # What cannot be built is within no limit.
            most[least >= FREE] = -1
            yield depth, [Limit(table=table, ways=none, spent=none, most=most), *capped]


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
