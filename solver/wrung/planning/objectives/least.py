"""Least largest error, then the least total of errors, then fewest blocks."""

from typing import Final

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Bounds
from wrung.planning.candidates.goals import error_goal, first_window
from wrung.planning.candidates.search import Cap
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Finding, totals
from wrung.planning.objectives.alone import Alone, error_grain
from wrung.planning.objectives.largest import Halving, Largest
from wrung.planning.objectives.serving import first_of_each, own_caps, serve
from wrung.planning.objectives.stages import Question, settle_sum
from wrung.planning.selection.assignment import as_candidates, hand_out

_POOL_EACH: Final = 40


class _Service(Struct, frozen=True, kw_only=True):
    """What plans are compared.

    Attributes:
        count: demands that they serve.
        most: no plan serves more.
        signs: whether searches take all sides of the error, see `goals.error_goal`.
        blocks: where given, they have that many, and none that serves as many has fewer.
    """

    count: int
    most: int
    signs: bool
    blocks: int | None = None


def least_error(
    exact: Workbench, nominal: Workbench, alone: Alone, deadline: Deadline
) -> Finding | None:
    """A best plan where demands contend for pieces; None if the tables do not get that far."""
    errors = np.sort(alone.best.errors)
    service = _Service(count=len(errors), most=len(errors), signs=alone.signs)
    halving = _halving(exact, alone, service)
    # How many can be served is a search of its own, needless where a plan serves all.
    if not halving.begin(deadline):
        served = serve(nominal, deadline)
        if served is None:
            return None
        service = _Service(count=served.count, most=served.most, signs=alone.signs)
        halving = _halving(exact, alone, service)
        halving.know(as_candidates(exact, hand_out(nominal, served.blocks.chosen)))
        halving.begin(deadline)
    return _least_total(exact, service, halving.run(deadline), deadline)


def least_errors(  # noqa: PLR0913 - what the stages before have proven
    exact: Workbench,
    plan: Candidates,
    pool: Candidates,
    *,
    most: int,
    blocks: int,
    least: int,
    deadline: Deadline,
) -> Finding:
    """The same among plans that serve as many and have as few blocks as this one.

    No plan serves more than ``most``, and none of these has a smaller largest error than ``least``.
    Pricing begins with the candidates of the pool.
    """
    service = _Service(count=len(plan), most=most, signs=True, blocks=blocks)
    halving = _from_pool(exact, service, pool, least)
    halving.know(plan)
    return _least_total(exact, service, halving.run(deadline), deadline)


def _halving(exact: Workbench, alone: Alone, service: _Service) -> Halving:
    order = np.argsort(alone.seen.errors, kind="stable")
    pool = first_of_each(alone.seen.where(order), _POOL_EACH)
    # Of so many demands served, one at least cannot have a smaller error than this.
    return _from_pool(exact, service, pool, int(np.sort(alone.best.errors)[service.count - 1]))


def _from_pool(exact: Workbench, service: _Service, pool: Candidates, least: int) -> Halving:
    return Halving(
        lambda limit: _question(exact, service, limit),
        pool,
        least=least,
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


def _least_total(
    exact: Workbench, service: _Service, largest: Largest, deadline: Deadline
) -> Finding:
    # The total only counts among plans whose largest error is proven least.
    if largest.bound < largest.value:
        return _finding(
            exact, largest.chosen, service, largest=largest.bound, blocks=service.blocks
        )
    question = replace(_question(exact, service, largest.value), fewest=service.blocks is None)
    pool = largest.pool.where(largest.pool.errors <= largest.value)
    total = settle_sum(question, pool, deadline)
    chosen = total.chosen if len(total.chosen) else largest.chosen
    blocks = int(chosen.counts.sum()) if total.end == "settled" else service.blocks
    return _finding(exact, chosen, service, largest=largest.value, total=total.bound, blocks=blocks)


def _finding(  # noqa: PLR0913 - one bound a stage
    exact: Workbench,
    chosen: Candidates,
    service: _Service,
    *,
    largest: int,
    total: int | None = None,
    blocks: int | None = None,
) -> Finding:
    plan = hand_out(exact, chosen)
    reached = totals(exact.problem, plan)
    served_proven = reached.served == service.most
    best = (reached.largest_error, reached.total_error, reached.blocks)
    return Finding(
        plan=plan,
        served_proven=served_proven,
        objective_proven=served_proven and best == (largest, total, blocks),
        bounds=Bounds(
            served=service.most,
            total_blocks=blocks,
            largest_worst_case_error=largest,
            total_worst_case_error=total,
        ),
    )
