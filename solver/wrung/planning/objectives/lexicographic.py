"""The goals one after another: plans that keep to what is settled are compared by the next.

First as many stacks of each class as can be; then fewest blocks, the least largest error and the
least total of errors, or these errors and then the blocks.
"""

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.assignment import as_candidates, hand_out
from wrung.planning.building.recreating import recreated
from wrung.planning.building.stacking import first_plan
from wrung.planning.candidates.goals import error_goal, first_window
from wrung.planning.candidates.quota import ByClass, Quota
from wrung.planning.candidates.search import Cap
from wrung.planning.candidates.stock import NEVER
from wrung.planning.candidates.walk import Candidates, least_of_each
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Engine, Finding, found, found_in_stages, unserved
from wrung.planning.objectives.alone import Alone, error_grain
from wrung.planning.objectives.exchanging import exchanged
from wrung.planning.objectives.fewest import OfFewest
from wrung.planning.objectives.largest import Halving, Largest, settled_first
from wrung.planning.objectives.neighbourhoods import improved
from wrung.planning.objectives.serving import Served, keeping_time, own_caps, serve
from wrung.planning.pricing.question import Question
from wrung.planning.proof import Proof


class _Settled(Struct, frozen=True, kw_only=True):
    """What goals before the errors have settled: only plans that keep to it are compared.

    Attributes:
        served: demands that they serve of each class.
        most: no plan serves more.
        signs: whether searches take all sides of the error, see `goals.error_goal`.
        blocks: where these come before, plans have so many, and none that serves as many has fewer.
    """

    served: Quota
    most: ByClass
    signs: bool
    blocks: int | None = None


def best_in_order(
    exact: Workbench, nominal: Workbench, alone: Alone, search: Engine, deadline: Deadline
) -> Finding | None:
    """A best plan where demands compete for pieces; None if the tables do not reach far enough.

    ``search`` does the same for a few of the demands.
    """
    if exact.problem.objective == "fewest_blocks":
        return _blocks_first(exact, nominal, search, deadline)
    return _errors_first(exact, nominal, alone, search, deadline)


def _blocks_first(
    exact: Workbench, nominal: Workbench, search: Engine, deadline: Deadline
) -> Finding | None:
    # Where blocks of one length differ in their errors, some time is kept to improve these.
    apart = len(exact.stock.nominals) > len(nominal.stock.nominals)
    share = deadline.tuning.share_before_neighbourhoods if apart else 1.0
    served = serve(nominal, deadline.share(share))
    if served is None:
        return None
    deadline = keeping_time(exact.problem, served, deadline)
    settled = _Settled(
        served=exact.quota(served.count), most=served.most, signs=True, blocks=served.least
    )
    fewest = OfFewest(exact, nominal, served) if served.blocks.end == "settled" else None
    if fewest is not None and (largest := fewest.settle(deadline)) is not None:
        return _finding(exact, settled, largest)
    part = deadline.share(deadline.tuning.share_for_neighbourhoods)
    known = _plan_of(exact, nominal, served, part)
    # Where fewer are served, the time is better spent on serving more.
    if served.count == served.most:
        met = known.counts.sum() == served.least
        first = met and settled_first(exact, len(known))
        known = _recreated(exact, known, part) if first else _improved(exact, known, search, part)
    # Errors come after blocks: as long as blocks are open, nothing can be said about errors.
    as_many = len(known) > 0 and exact.counts(known.demands) == served.most
    if not as_many or known.counts.sum() > served.least:
        proof = Proof(settled=unserved(exact.problem, served.most), bound=served.least or None)
        return found(exact.problem, hand_out(exact, known), proof)
    # With prices for each limit, where all plans have too many candidates to choose from.
    pool, below = (known, 0) if fewest is None else (fewest.best(), fewest.below)
    settled = replace(settled, served=exact.quota(served.most))
    halving = _halving(exact, settled, search, pool=pool, known=known, least=below)
    return _finding(exact, settled, halving.run(deadline))


def _errors_first(
    exact: Workbench, nominal: Workbench, alone: Alone, search: Engine, deadline: Deadline
) -> Finding | None:
    settled = _everyone(exact, alone)
    # How many can be served is a search of its own, needless where a plan serves all.
    known = begun = as_candidates(exact, first_plan(exact.problem, deadline, quick=True))
    if len(begun) != settled.served.total:
        served = serve(nominal, deadline, fewest=False)
        if served is None:
            return None
        if not len(served.blocks.chosen):
            return found(exact.problem, None, Proof(settled=unserved(exact.problem, served.most)))
        deadline = keeping_time(exact.problem, served, deadline)
        settled = replace(settled, served=exact.quota(served.count), most=served.most)
        known = _plan_of(exact, nominal, served, deadline)
        if exact.counts(begun.demands) == served.count:
            known = min(known, begun, key=lambda plan: int(plan.errors.max(initial=0)))
    if exact.counts(known.demands) == settled.most:
        known = _recreated(exact, known, deadline)
    # With this many demands served, at least one cannot have a smaller error than this.
    least = settled.served.least_largest(alone.least)
    seen, each = alone.seen, exact.deadline.tuning.pool_each
    pool = least_of_each(seen, seen.errors, each)
    halving = _halving(exact, settled, search, pool=pool, known=known, least=least)
    return _finding(exact, settled, halving.run(deadline))


def _plan_of(
    exact: Workbench, nominal: Workbench, served: Served, deadline: Deadline
) -> Candidates:
    """The plan found, of those blocks of its lengths that leave small errors."""
    plan = as_candidates(exact, hand_out(nominal, served.blocks.chosen))
    return exchanged(exact, plan, deadline)


def _recreated(exact: Workbench, plan: Candidates, deadline: Deadline) -> Candidates:
    """The plan, or one no worse where the sizes of its stacks differ greatly."""
    return as_candidates(exact, recreated(exact.problem, hand_out(exact, plan), deadline))


def _improved(exact: Workbench, plan: Candidates, search: Engine, deadline: Deadline) -> Candidates:
    """The plan, or a better one with a few stacks built anew."""
    # What is proven of the starts that cost least says nothing of stacks with others.
    if exact.cheapest is not None or deadline.passed:
        return plan
    stacks = hand_out(exact, plan)
    better = recreated(exact.problem, stacks, deadline)
    better = improved(exact.problem, better, search, deadline)
    return plan if better == stacks else as_candidates(exact, better)


def _everyone(exact: Workbench, alone: Alone) -> _Settled:
    """Plans that serve every demand that can be built at all."""
    counts = exact.counts(np.flatnonzero(alone.least < NEVER))
    signs = alone.signs or sum(counts) > exact.deadline.tuning.few_stacks
    return _Settled(served=exact.quota(counts), most=counts, signs=signs)


def _halving(  # noqa: PLR0913 - how to go on, and what to begin with
    exact: Workbench,
    settled: _Settled,
    search: Engine,
    *,
    pool: Candidates,
    known: Candidates,
    least: int,
) -> Halving:
    return Halving(
        ask=lambda limit, bench, signs: _question(bench, replace(settled, signs=signs), limit),
        improve=lambda plan, until: _improved(exact, plan, search, until),
        bench=exact,
        pool=pool,
        known=known,
        least=least,
        signs=settled.signs,
    )


def _question(bench: Workbench, settled: _Settled, limit: int) -> Question:
    """Least total of errors, none above the limit."""
    goal = error_goal(bench.stock, bench.starts, signs=settled.signs)
    most = np.full(len(bench.problem.demands), limit)
    return Question(
        bench=bench,
        goal=goal,
        caps=(*own_caps(bench), Cap(goal=goal, most=most)),
        served=settled.served,
        window=first_window(bench.stock),
        grain=error_grain(bench),
        blocks=settled.blocks,
    )


def _finding(exact: Workbench, settled: _Settled, largest: Largest) -> Finding:
    plan, total = hand_out(exact, largest.chosen), largest.total
    bounds: list[int | None] = [*unserved(exact.problem, settled.most)]
    bounds += [] if settled.blocks is None else [settled.blocks]
    bounds += [largest.bound, None if total is None else total.bound]
    if settled.blocks is None and total is not None and total.end == "settled":
        bounds.append(int(total.chosen.counts.sum()))
    return found_in_stages(exact.problem, plan, bounds)
