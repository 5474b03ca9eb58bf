"""A stock laid out for one problem: the basis of all searches, and lists of candidates."""

from collections.abc import Sequence
from math import prod
from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.cheapest import CheapestStarts, cheapest_starts
from wrung.planning.candidates.grids import lay_out
from wrung.planning.candidates.layout import Layout, Reach
from wrung.planning.candidates.quota import ByClass, Quota
from wrung.planning.candidates.starts import Starts, starts_of
from wrung.planning.candidates.stock import NEVER, Bools, Ints, Stock
from wrung.planning.candidates.supply import Tables
from wrung.planning.candidates.walk import Candidates, Limit, Walk
from wrung.planning.problem import Problem, crowded

FREE: Final = NEVER // 4
"""As a limit: no limit, short of what cannot be built."""


class Prices(Struct, frozen=True, kw_only=True):
    """The price of using a piece, on top of the goal: the dual values of the master programme.

    Attributes:
        by_clique: by clique and kind.
        each: of any piece, where plans have a given number of ``blocks``; it may be negative.
    """

    by_clique: tuple[Ints, ...]
    each: int = 0
    blocks: int = 0


class Workbench(Struct, frozen=True, kw_only=True):
    """A problem with its stock, the ways to begin, and the layout of its tables.

    Attributes:
        reach: longest sums that the gauge pieces must make up.
        group_of: by demand, the number of its group: the demands that are members of the same
            cliques, so that all of them pay the same prices.
        cliques_of: by group and clique, 1 where the group is a member and 0 elsewhere.
        deadline: ends every search.
        spelt_out: whether every choice of the finest pieces is a start of its own.
        cheapest: says which starts were left out, if any were.
    """

    problem: Problem
    stock: Stock
    starts: Starts
    layout: Layout
    reach: Reach
    group_of: Ints
    cliques_of: Ints
    deadline: Deadline
    spelt_out: bool = False
    cheapest: CheapestStarts | None = None

    def beginning(self, rows: Ints) -> "Workbench":
        """The same with some of its starts."""
        return replace(self, starts=self.starts.where(rows))

    def no_prices(self) -> Prices:
        """Nothing has a price."""
        zero = np.zeros(len(self.stock.nominals), np.int64)
        return Prices(by_clique=(zero,) * len(self.problem.cliques))

    def quota(self, counts: ByClass) -> Quota:
        """Plans that serve so many demands of each class."""
        return Quota(np.array([d.priority_class for d in self.problem.demands]), counts)

    def counts(self, demands: Ints) -> ByClass:
        """How many of these demands are of each class."""
        return self.quota(self.problem.sizes).of(demands).sizes

    @property
    def most_errors(self) -> Ints:
        """By demand, the limit on its error; `FREE` where it has none."""
        limits = (demand.most_error for demand in self.problem.demands)
        return np.array([FREE if n is None else min(n, FREE) for n in limits], np.int64)

    def prices_by_group(self, prices: Prices) -> Ints:
        """Price of each kind for the demands of each group: they pay in every clique of theirs."""
        # A body is no piece.
        each = prices.each * (np.arange(len(self.stock.nominals)) < self.stock.bodies)
        by_clique = np.array(prices.by_clique)
        # Where sequences meet, there are a thousand cliques, and few have prices.
        priced = by_clique.any(axis=1)
        total: Ints = self.cliques_of[:, priced] @ by_clique[priced] + each
        return total

    def capacity_cost(self, prices: Prices) -> int:
        """What all pieces together would cost in every clique, and all blocks of a plan."""
        own = sum(int((price * self.stock.capacities).sum()) for price in prices.by_clique)
        return own + prices.each * prices.blocks


class Listing(Struct, frozen=True, kw_only=True):
    """Candidates, and which start each of them has.

    Attributes:
        candidates: one a row.
        starts: the start of each row.
        whole: by start, whether these are all that there are.
    """

    candidates: Candidates
    starts: Ints
    whole: Bools


def set_up(
    problem: Problem, stock: Stock, deadline: Deadline, *, some: bool = False
) -> Workbench | None:
    """Lay the stock out; None where tables, starts or cliques would be too many, or time is up.

    If ``some`` of the starts are enough, it has those that cost least by the objective.
    """
    # Each clique has prices of its own.
    if not stock.gauges or not problem.demands or crowded(problem, deadline.tuning):
        return None
    longest = max(demand.high for demand in problem.demands)
    layout = lay_out(stock, longest, deadline, len(problem.demands))
    cheapest = cheapest_starts(problem, stock, layout, deadline) if some else None
    starts = cheapest.kept() if cheapest else None
    if not some:
        starts = starts_of(problem, stock, layout, deadline)
    if starts is None:
        return None
    reach = tuple(starts.steps.max(axis=0, initial=0).tolist())
    # Asked before any is made: lengths without a common step would fill the memory.
    if layout.cells(reach) > deadline.tuning.most_cells:
        return None
    cliques_of, group_of = _groups(problem)
    return Workbench(
        problem=problem,
        stock=stock,
        starts=starts,
        layout=layout,
        reach=reach,
        group_of=group_of,
        cliques_of=cliques_of,
        deadline=deadline,
        cheapest=cheapest if cheapest and cheapest.some else None,
    )


def spelt_out(bench: Workbench) -> Workbench:
    """The same with the finest pieces in the starts, where many tables are needed.

    Groups need tables of their own. Where lengths lie in windows, which length a stack should have
    depends on who else needs the fine pieces, and that takes many sums to find out (`relaxed.py`).
    The levels of fine steps are few pieces wide, but most of a table's cells are theirs.
    """
    levels = _levels_to_spell_out(bench)
    if not levels:
        return bench
    counts = np.ones((1, len(bench.layout.kinds)), np.int64)
    table = Tables(bench.layout, bench.reach, bench.deadline).of(counts, lasting=True)
    none = np.zeros_like(bench.starts.demands)
    limit = Limit(table=table, ways=none, spent=none, most=none + counts.size)
    tuning, most = bench.deadline.tuning, bench.deadline.tuning.most_starts_spelt_out
    found = begun(bench, [limit], levels, tuning.partial_a_start * most)
    # How many there are was only estimated.
    return bench if found is None or len(found.starts) > most else found


def begun(bench: Workbench, limits: Sequence[Limit], levels: int, most: int) -> Workbench | None:
    """The same where every choice of pieces of the first levels is a start, within the limits.

    None past ``most`` partial stacks or the deadline.
    """
    ended = Walk(bench.layout, limits, most, bench.deadline).run(bench.starts, levels)
    if ended is None:
        return None
    layout = bench.layout.beyond(levels)
    ratios = np.array(layout.steps) // np.array(bench.layout.steps)
    own = bench.starts.where(ended.starts)
    starts = own.longer(bench.stock, ended.added, ended.left // ratios)
    return replace(
        bench,
        starts=starts,
        layout=layout,
        reach=tuple((np.array(bench.reach) // ratios).tolist()),
        spelt_out=True,
    )


def list_candidates(  # noqa: PLR0913 - what is listed, and how far
    bench: Workbench,
    limits: Sequence[Limit],
    most: int,
    *,
    levels: int | None = None,
    beam: int | None = None,
    by_start: bool = False,
) -> Listing | None:
    """Every candidate within all limits; None past ``most`` partial stacks or the deadline.

    With ``levels``, what candidates use of the pieces of the first so many levels, which the
    limits say can be completed; their errors then mean nothing. With ``beam``, some candidates
    only: no more partial stacks than that are followed at a time, or of each start ``by_start``.
    """
    walk = Walk(bench.layout, limits, most, bench.deadline, beam=beam, by_start=by_start)
    found = walk.run(bench.starts, levels)
    if found is None:
        return None
    own = bench.starts.where(found.starts).longer(bench.stock, found.added, found.left)
    candidates = Candidates(
        demands=own.demands,
        kinds=own.begun,
        counts=own.counts,
        errors=bench.stock.errors(own.offsets, own.burdens),
    )
    return Listing(candidates=candidates, starts=found.starts, whole=found.whole)


def _levels_to_spell_out(bench: Workbench) -> int:
    """As many levels as keep the list of starts short; none where one table is enough for all."""
    if len(bench.cliques_of) == 1 and not bench.problem.tolerant:
        return 0
    layout, best, ways = bench.layout, 0, len(bench.starts)
    for number, level in enumerate(layout.levels[:-1], start=1):
        following = layout.following(number)
        if following is None:
            break
        _, copies = np.unique(layout.kinds[level.first : level.last], return_counts=True)
        ways *= prod((copies + 1).tolist())
        # Of all sums, only those that leave a multiple of the next step are of use.
        ways = -(-ways * level.step // following[level.grid])
        if ways > bench.deadline.tuning.most_starts_spelt_out:
            break
        best = number
    return best


def _groups(problem: Problem) -> tuple[Ints, Ints]:
    """`Workbench.cliques_of` and `Workbench.group_of`."""
    # Where prices are the same, so are tables: one for each group, not one for each demand.
    member = np.zeros((len(problem.demands), len(problem.cliques)), np.uint8)
    for number, clique in enumerate(problem.cliques):
        member[list(clique), number] = 1
    # As strings of bytes, as to sort rows of a thousand numbers takes long.
    rows = [row.tobytes() for row in member]
    groups = {row: number for number, row in enumerate(sorted(set(rows)))}
    group_of = np.array([groups[row] for row in rows], np.int64)
    cliques_of = np.array([np.frombuffer(row, np.uint8) for row in groups], np.int64)
    return cliques_of, group_of
