"""Fewest blocks, then the least largest error, then the least total of errors."""

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.search import Cap, Search
from wrung.planning.candidates.stock import Stock
from wrung.planning.candidates.walk import Candidates, first_of_each, no_candidates
from wrung.planning.candidates.workbench import Prices, Workbench
from wrung.planning.finding import Finding, found, unserved, values_of
from wrung.planning.objectives.alone import error_grain, least_by_demand
from wrung.planning.objectives.closing import Settled
from wrung.planning.objectives.least import least_errors
from wrung.planning.objectives.serving import Served, keeping_time, own_caps, serve
from wrung.planning.pricing.prices import room
from wrung.planning.proof import staged
from wrung.planning.selection.assignment import as_candidates, hand_out
from wrung.planning.selection.choice import Choice


def fewest_blocks(exact: Workbench, nominal: Workbench, deadline: Deadline) -> Finding | None:
    """A best plan where demands compete for pieces; None if the tables do not reach far enough."""
    served = serve(nominal, deadline)
    if served is None:
        return None
    # Errors come after blocks: as long as blocks are open, nothing can be said about errors.
    if served.blocks.end != "settled":
        return _by_blocks(nominal, served)
    deadline = keeping_time(exact.problem, served.count, served.most, deadline)
    offers = _Offers(exact, nominal, served)
    largest = _least_largest(exact, offers, served, deadline)
    if largest.chosen is not None:
        return _least_total(exact, offers, served, largest, deadline)
    grain = error_grain(exact)
    # With prices for each limit, where all plans have too many candidates to choose from.
    return least_errors(
        exact,
        as_candidates(exact, hand_out(nominal, served.blocks.chosen)),
        offers.best(),
        most=served.most,
        blocks=served.blocks.value // BLOCK,
        # Errors are multiples of the grain.
        least=-(-largest.value // grain) * grain,
        deadline=deadline,
    )


class _Largest(Struct, frozen=True, kw_only=True):
    """The least largest error and a plan that has it; without a plan, it is only a lower bound."""

    value: int
    chosen: Candidates | None = None


class _Offers:
    """Every candidate of every plan with the fewest blocks, told apart by error."""

    def __init__(self, exact: Workbench, nominal: Workbench, served: Served) -> None:
        self._exact = exact
        self._prices = _carry_over(nominal.stock, exact.stock, served.blocks)
        priced = served.blocks.priced
        assert priced is not None  # noqa: S101 - a settled sum has its prices
        self._most = room(priced, exact.quota(served.count), served.blocks.value)
        self._all = self._search(())

    def _search(self, caps: tuple[Cap, ...]) -> Candidates | None:
        goal = block_goal(self._exact.stock, self._exact.starts)
        search = Search(self._exact, goal, self._prices, (*own_caps(self._exact), *caps))
        found = search.within(self._most)
        return (
            None
            if found is None or len(found) > self._exact.deadline.tuning.most_offered
            else found
        )

    def first_limit(self, count: Quota) -> int:
        """An error limit that this many stacks may keep, with some candidates for each."""
        if self._all is None:
            return 0
        # With this many demands served, at least one cannot have a smaller error than this.
        least = count.least_largest(least_by_demand(self._exact, self._all))
        some = np.sort(self._all.errors)
        some = some[: self._exact.deadline.tuning.offered_each_first * count.total]
        return max(least, int(some[-1]))

    def best(self) -> Candidates:
        """Some candidates of each demand, those with the least errors."""
        found = no_candidates() if self._all is None else self._all
        order = np.argsort(found.errors, kind="stable")
        return first_of_each(found.where(order), self._exact.deadline.tuning.offered_each_best)

    def up_to(self, error: int) -> Candidates | None:
        """Those with no larger error; None if there are too many."""
        if self._all is not None:
            return self._all.where(self._all.errors <= error)
        goal = error_goal(self._exact.stock, self._exact.starts)
        most = np.full(len(self._exact.problem.demands), error)
        return self._search((Cap(goal=goal, most=most),))


def _carry_over(nominal: Stock, exact: Stock, blocks: Settled) -> Prices:
    """Prices of kinds by nominal length, for the kinds by error."""
    assert blocks.priced is not None  # noqa: S101 - a settled sum has its prices
    if nominal is exact:
        return blocks.priced.prices
    wear = np.arange(len(nominal.nominals)) >= nominal.gauges
    where = {
        key: kind
        for kind, key in enumerate(zip(wear.tolist(), nominal.nominals.tolist(), strict=True))
    }
    kinds = [
        where[(kind >= exact.gauges, length)] for kind, length in enumerate(exact.nominals.tolist())
    ]
    return Prices(by_clique=tuple(price[kinds] for price in blocks.priced.prices.by_clique))


def _least_largest(
    exact: Workbench, offers: _Offers, served: Served, deadline: Deadline
) -> _Largest:
    """The least largest error, as far as few candidates can give it.

    The limit rises until a plan is found within it: all candidates within it were offered, so
    the best of them is the best of all.
    """
    count = exact.quota(served.count)
    limit, step, proven = offers.first_limit(count), 0, 0
    while not deadline.passed:
        limit += step
        offered = offers.up_to(limit)
        if offered is None or len(offered) > deadline.tuning.many_offered:
            break
        choice = Choice(exact, offered, count)
        choice.limit_sum(offered.counts, served.blocks.value // BLOCK)
        selection = choice.solve("least_largest", offered.errors, deadline)
        if selection.verdict == "best":
            return _Largest(value=selection.value, chosen=offered.where(selection.rows))
        if selection.verdict != "impossible":
            break
        proven = limit + 1
        # In growing steps, so that few choices are needed; the least within a limit is exact
        # anyway.
        step = max(2 * step, limit // 32, 1)
    return _Largest(value=proven)


def _least_total(
    exact: Workbench, offers: _Offers, served: Served, largest: _Largest, deadline: Deadline
) -> Finding:
    chosen = largest.chosen
    assert chosen is not None  # noqa: S101 - a total is asked for among plans there are
    offered = offers.up_to(largest.value)
    if offered is None:
        return _finding(exact, served, chosen, largest.value, None)
    choice = Choice(exact, offered, exact.quota(served.count))
    choice.limit_sum(offered.counts, served.blocks.value // BLOCK)
    selection = choice.solve("least_sum", offered.errors, deadline)
    if selection.verdict not in ("best", "found"):
        return _finding(exact, served, chosen, largest.value, None)
    chosen = offered.where(selection.rows)
    return _finding(exact, served, chosen, largest.value, selection.bound)


def _by_blocks(nominal: Workbench, served: Served) -> Finding:
    """Only the number served, and what is known of the blocks."""
    plan = hand_out(nominal, served.blocks.chosen)
    values = values_of(nominal.problem, plan)
    # A plan has a whole number of blocks, so a fraction is rounded up.
    missing = unserved(nominal.problem, served.most)
    bounds = (*missing, -(-served.blocks.bound // BLOCK))
    return found(nominal.problem, plan, staged(values, bounds))


def _finding(
    exact: Workbench, served: Served, chosen: Candidates, largest: int, total: int | None
) -> Finding:
    plan = hand_out(exact, chosen)
    values = values_of(exact.problem, plan)
    missing = unserved(exact.problem, served.most)
    bounds = (*missing, served.blocks.value // BLOCK, largest, total)
    return found(exact.problem, plan, staged(values, bounds))
