"""Stacks that are begun, completed side by side within a limit; or what rules that out.

Starts near the limit have few stacks, which are listed; others have more than could be. Of those,
prices find the ones that spare what the others need: the duals of a linear programme that serves as
many as it can. If it cannot serve all, they prove a Benders cut, for all starts at once: what the
pieces of each cost at least, which together is no more than what all pieces cost (Benders,
*Numerische Mathematik* 4, 1962; the other cuts are those of logic-based decomposition: Hooker and
Ottosson, *Mathematical Programming* 96, 2003).
"""

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.relaxed import mixed
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import Ints, join_rows, total_over_kinds
from wrung.planning.candidates.walk import (
    Candidates,
    distinct,
    first_rows,
    no_candidates,
)
from wrung.planning.candidates.workbench import Listing, Prices
from wrung.planning.pricing.master import Master
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import Choice, Selection


class Cut(Struct, frozen=True, kw_only=True):
    """Starts of a plan within the limit do not cost more than ``most`` together.

    Attributes:
        costs: by start.
        limit: of the plans that it holds for.
        proven: if not, there may be such plans, but none was found.
    """

    costs: Ints
    most: int
    limit: int
    proven: bool = True


class Within(Struct, frozen=True, kw_only=True):
    """A question, and its limit as a cap that rules out as much as it can."""

    question: Question
    limit: int
    cap: Cap

    def search(self, rows: Ints | None = None, prices: Prices | None = None) -> Search:
        """A search by prices alone, for some of the starts."""
        bench, caps = self.question.bench, (*self.question.caps, self.cap)
        if rows is not None:
            bench, caps = bench.beginning(rows), tuple(cap.where(rows) for cap in caps)
        goal = self.cap.goal if rows is None else self.cap.goal.where(rows)
        return Search(bench, goal.free, caps, prices)


def within(question: Question, limit: int) -> Within:
    """Plans with no error above the limit, which is one of the question's caps."""
    own = tuple(cap for cap in question.caps if cap.goal is not question.goal)
    most = np.full(len(question.bench.problem.demands), limit)
    cap = Cap(goal=mixed(question.goal), most=most)
    return Within(question=replace(question, caps=own), limit=limit, cap=cap)


class Completing:
    """Completes choices of starts, again and again; what was found for one helps the next."""

    def __init__(self) -> None:
        self._pool = no_candidates()
        # Seeded, so that the same request gets the same answer.
        self._random = np.random.default_rng(1)

    def run(self, asked: Within, starts: Ints, deadline: Deadline) -> Candidates | Cut | None:
        """A plan of stacks with these starts, or a cut; None if the time is up."""
        tuning = deadline.tuning
        listing = asked.search(starts).listed(tuning.listed_each, tuning.most_partial)
        if listing is None or deadline.passed:
            return None
        there = np.bincount(listing.starts, minlength=len(starts)) > 0
        if (listing.whole & ~there).any():
            return _cut(asked, starts[listing.whole & ~there], 0)
        whole = listing.candidates.where(listing.whole[listing.starts])
        if _chosen(asked, whole, deadline).verdict == "impossible":
            # Their stacks do not fit side by side.
            listed = starts[listing.whole]
            return _cut(asked, listed, len(listed) - 1)
        return self._priced(asked, starts, listing, deadline)

    def _priced(
        self, asked: Within, starts: Ints, listing: Listing, deadline: Deadline
    ) -> Candidates | Cut | None:
        many = starts[~listing.whole]
        some = self._begun_so(asked, many)
        offered = distinct(join_rows([_few(listing, deadline), some]))
        bench = asked.question.bench
        served = bench.quota(bench.counts(bench.starts.demands[starts]))
        # Only who is served counts.
        goal = replace(asked.cap.goal, errors=0)
        master = Master(replace(asked.question, goal=goal, served=served), offered)
        idle = 0
        for variant in range(deadline.tuning.most_rounds_completing):
            solved = master.solve(deadline)
            if solved is None:
                return None
            if not master.lacking:
                return self._picked(asked, starts, many, offered, deadline)
            least, new = self._cheapest(asked, many, solved[1], variant)
            most = bench.capacity_cost(solved[1])
            if least[starts].sum() > most:
                costs = np.minimum(least, most + 1)
                return Cut(costs=costs, most=most, limit=asked.limit)
            idle = 0 if master.add(new, len(new)) else idle + 1
            offered = master.pool
            if idle >= deadline.tuning.most_idle:
                break
        return _cut(asked, starts, len(starts) - 1, proven=False)

    def _picked(
        self,
        asked: Within,
        starts: Ints,
        many: Ints,
        offered: Candidates,
        deadline: Deadline,
    ) -> Candidates | Cut | None:
        """A plan of those that the programme was content with, or of some more."""
        bench = asked.question.bench
        used = np.bincount(offered.kinds[offered.kinds >= 0], minlength=len(bench.stock.nominals))
        for variant in range(deadline.tuning.more_for_a_plan):
            found = _chosen(asked, offered, deadline)
            if len(found.rows):
                return offered.where(found.rows)
            if deadline.passed:
                return None
            # What many stacks use is dear.
            drawn = self._random.exponential(asked.limit / 16, len(used)) * used / used.mean()
            own = Prices(by_clique=(drawn.astype(np.int64),) * len(bench.problem.cliques))
            _, new = self._cheapest(asked, many, own, variant)
            offered = distinct(join_rows([offered, new]))
        return _cut(asked, starts, len(starts) - 1, proven=False)

    def _cheapest(
        self, asked: Within, many: Ints, prices: Prices, variant: int
    ) -> tuple[Ints, Candidates]:
        search, best = asked.search(prices=prices), asked.question.bench.deadline.tuning.best_sums
        plain = Cap(goal=asked.question.goal, most=asked.cap.most)
        least, new = search.relaxed_by_start(plain, many, variant, best)
        self._pool = join_rows([self._pool, new])
        return least, new

    def _begun_so(self, asked: Within, starts: Ints) -> Candidates:
        """Of the stacks seen, those within the limit that begin like these."""
        begun, own = asked.question.bench.starts, self._pool
        fine = np.unique(begun.begun[begun.begun >= 0])
        mark = np.zeros(len(asked.question.bench.stock.nominals), np.int64)
        mark[fine] = np.random.default_rng(1).integers(1, 1 << 40, len(fine))
        demands = begun.demands.max() + 1
        wanted = total_over_kinds(begun.begun[starts], mark) * demands + begun.demands[starts]
        there = total_over_kinds(own.kinds, mark) * demands + own.demands
        alike = np.isin(there, wanted)
        return own.where(alike & (own.errors <= asked.limit))


def _few(listing: Listing, deadline: Deadline) -> Candidates:
    """All of the starts that are listed whole, and the shortest of the others."""
    order = np.argsort(listing.candidates.counts, kind="stable")
    starts, candidates = listing.starts[order], listing.candidates.where(order)
    keep = listing.whole[starts]
    keep[first_rows(starts, deadline.tuning.shortest_each)] = True
    return candidates.where(keep)


def _cut(asked: Within, starts: Ints, most: int, *, proven: bool = True) -> Cut:
    """Not more than so many of these starts together."""
    costs = np.zeros(len(asked.question.bench.starts), np.int64)
    costs[starts] = 1
    return Cut(costs=costs, most=most, limit=asked.limit, proven=proven)


def _chosen(asked: Within, offered: Candidates, deadline: Deadline) -> Selection:
    """One stack for each demand that is offered any."""
    bench = asked.question.bench
    served = bench.quota(bench.counts(np.unique(offered.demands)))
    choice = Choice(bench, offered, served)
    # Any plan will do: all of them are within the limit.
    effort, free = deadline.tuning.effort_for_completing, np.zeros_like(offered.errors)
    return choice.solve("least_sum", free, deadline, effort=effort, presolve=True)
