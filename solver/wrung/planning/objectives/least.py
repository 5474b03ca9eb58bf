"""Least largest error, then the least total of errors, then fewest blocks."""

import numpy as np
from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.building.stacking import first_plan
from wrung.planning.candidates.goals import error_goal, first_window
from wrung.planning.candidates.quota import Counts, Quota
from wrung.planning.candidates.search import Cap
from wrung.planning.candidates.walk import Candidates, first_of_each
from wrung.planning.candidates.workbench import FREE, Workbench
from wrung.planning.finding import Finding, Plan, found, unserved, values_of
from wrung.planning.objectives.alone import Alone, each_alone, error_grain, least_by_demand
from wrung.planning.objectives.largest import Halving, Largest
from wrung.planning.objectives.serving import keeping_time, own_caps, serve
from wrung.planning.objectives.stages import any_plan
from wrung.planning.pricing.question import Question
from wrung.planning.proof import staged
from wrung.planning.selection.assignment import as_candidates, hand_out


class _Service(Struct, frozen=True, kw_only=True):
    """Which plans are compared.

    Attributes:
        count: demands that they serve of each class.
        most: no plan serves more.
        signs: whether searches take all sides of the error, see `goals.error_goal`.
        blocks: where given, they have that many blocks, and no plan that serves as many has fewer.
    """

    count: Quota
    most: Counts
    signs: bool
    blocks: int | None = None


def least_error(
    exact: Workbench, nominal: Workbench, alone: Alone, deadline: Deadline
) -> Finding | None:
    """A best plan where demands compete for pieces; None if the tables do not reach far enough."""
    service = _everyone(exact, alone)
    # How many can be served is a search of its own, needless where a plan serves all.
    known = _all_served(exact, alone, deadline)
    if known is None:
        served = serve(nominal, deadline)
        if served is None:
            return None
        deadline = keeping_time(exact.problem, served.count, served.most, deadline)
        counts = exact.quota(served.count)
        service = _Service(count=counts, most=served.most, signs=_signs(exact, alone))
        known = as_candidates(exact, hand_out(nominal, served.blocks.chosen))
    return _found(exact, service, _halving(exact, alone, service, known).run(deadline))


def least_below(exact: Workbench, plan: Plan, deadline: Deadline) -> Finding | None:
    """A best plan from one that serves all; none has a stack that is not among the starts."""
    alone = each_alone(exact)
    if alone is None:
        return None
    service, known = _everyone(exact, alone), as_candidates(exact, plan)
    return _found(exact, service, _halving(exact, alone, service, known).run(deadline))


def least_errors(  # noqa: PLR0913 - what the stages before have proven
    exact: Workbench,
    plan: Candidates,
    pool: Candidates,
    *,
    most: Counts,
    blocks: int,
    least: int,
    deadline: Deadline,
) -> Finding:
    """The same among plans that serve as many and have as few blocks as this one.

    No plan serves more than ``most``, and none of these has a smaller largest error than ``least``.
    Pricing begins with the candidates of the pool.
    """
    count = exact.quota(exact.counts(plan.demands))
    service = _Service(count=count, most=most, signs=True, blocks=blocks)
    halving = Halving(
        question=lambda limit: _question(exact, service, limit),
        pool=pool,
        known=plan,
        least=least,
        grain=error_grain(exact),
    )
    return _found(exact, service, halving.run(deadline))


def _all_served(exact: Workbench, alone: Alone, deadline: Deadline) -> Candidates | None:
    """Any plan that serves them all, if one is found easily."""
    plan = first_plan(exact.problem, deadline, quick=True)
    if sum(stack is not None for stack in plan) == len(alone.best):
        return as_candidates(exact, plan)
    question = _question(exact, _everyone(exact, alone), FREE)
    return any_plan(question, _pool(exact, alone), deadline)


def _everyone(exact: Workbench, alone: Alone) -> _Service:
    """Plans that serve every demand that can be built at all."""
    counts = exact.counts(alone.best.demands)
    return _Service(count=exact.quota(counts), most=counts, signs=_signs(exact, alone))


def _pool(exact: Workbench, alone: Alone) -> Candidates:
    order = np.argsort(alone.seen.errors, kind="stable")
    return first_of_each(alone.seen.where(order), exact.deadline.tuning.pool_each)


def _signs(exact: Workbench, alone: Alone) -> bool:
    return alone.signs or len(alone.best) > exact.deadline.tuning.few_stacks


def _halving(exact: Workbench, alone: Alone, service: _Service, known: Candidates) -> Halving:
    return Halving(
        question=lambda limit: _question(exact, service, limit),
        pool=_pool(exact, alone),
        known=known,
        # With this many demands served, at least one cannot have a smaller error than this.
        least=service.count.least_largest(least_by_demand(exact, alone.best)),
        grain=error_grain(exact),
    )


def _question(exact: Workbench, service: _Service, limit: int) -> Question:
    """Least total of errors, none above the limit."""
    goal = error_goal(exact.stock, exact.starts, signs=service.signs)
    most = np.full(len(exact.problem.demands), limit)
    return Question(
        bench=exact,
        goal=goal,
        caps=(*own_caps(exact), Cap(goal=goal, most=most)),
        served=service.count,
        window=first_window(exact.stock),
        grain=error_grain(exact),
        blocks=service.blocks,
    )


def _found(exact: Workbench, service: _Service, largest: Largest) -> Finding:
    plan = hand_out(exact, largest.chosen)
    total = largest.total
    errors = (largest.bound, None if total is None else total.bound)
    missing = unserved(exact.problem, service.most)
    bounds: tuple[int | None, ...]
    if service.blocks is not None:
        bounds = (*missing, service.blocks, *errors)
    elif total is not None and total.end == "settled":
        bounds = (*missing, *errors, int(total.chosen.counts.sum()))
    else:
        bounds = (*missing, *errors)
    values = values_of(exact.problem, plan)
    return found(exact.problem, plan, staged(values, bounds))
