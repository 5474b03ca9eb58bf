"""The number of blocks against the largest worst-case error, for a whole request."""

from collections.abc import Sequence
from typing import Unpack

from msgspec.structs import replace

from wrung.answers import Answer, Bounds
from wrung.arguments import with_tuples
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.choices import TradeOff, TradeOffPoint
from wrung.deadline import Cancel, Deadline
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.options import Options
from wrung.order import Order
from wrung.planning.asking import limits, plan_of
from wrung.planning.assembly import built_stacks, compared_figures
from wrung.planning.finding import totals
from wrung.planning.frontier import Point, Start, frontier, start
from wrung.planning.problem import Problem, build_problem
from wrung.targets import Target


@with_tuples
@typed
def trade_off(  # noqa: PLR0913 -- what was asked, what came of it, how long, how much
    blocks: Sequence[Block],
    targets: Sequence[Target],
    answer: Answer,
    *,
    time_limit_ms: float = 2000,
    memory_limit_mb: float = DEFAULT_MEMORY_MB,
    cancel: Cancel | None = None,
    **options: Unpack[Options],
) -> TradeOff:
    """How few blocks allow how small a largest error, for all targets side by side.

    The points are plans that serve as many targets as can be served; which these are may differ
    from point to point. Both objectives have the same trade-off: the first point has the fewest
    blocks, the last one the least largest error.

    Args:
        blocks: as given to `wrung.solve`.
        targets: as given to it.
        answer: what it returned; what it proved is not searched for again.
        time_limit_ms: for this call alone, ms. When it runs out, the points found so far are the
            trade-off.
        memory_limit_mb: the most memory that the search may hold at any time, MB.
        cancel: ends the search from another thread.
        options: all others as given to `wrung.solve`; with an ``error_measure`` the largest error
            is by this measure, see ``compared``.

    Returns:
        The points, each proven or not, and whether these are all.

    Raises:
        InputError: as `wrung.solve`.
    """
    deadline = limits(time_limit_ms, memory_limit_mb, cancel)
    problem = build_problem(Order(blocks=blocks, targets=targets, **options))
    found = frontier(problem, _known(problem, answer, deadline), deadline)
    return TradeOff(
        points=tuple(_written(problem, point) for point in found.points),
        complete=found.complete,
    )


def _known(problem: Problem, answer: Answer, deadline: Deadline) -> Start:
    """What the answer says of the frontier; it may have one of its ends."""
    plan = plan_of(problem, answer)
    reached = totals(problem, plan)
    few = problem.objective == "fewest_blocks"
    own = Start(
        first=Point(plan=plan, totals=reached, proven=few and answer.objective_proven),
        served_proven=sum(reached.served) == answer.bounds.served,
    )
    if few or not any(reached.served):
        return own
    begun = start(problem, deadline)
    if begun.first.totals.served < reached.served:
        return own
    # More demands may need larger errors: a bound holds for one number served only.
    same = begun.first.totals.served == reached.served
    return replace(begun, least=_bound(answer) if same else 0)


def _bound(answer: Answer) -> int:
    """No plan that serves as many has a smaller largest error, by the measure asked for."""
    figures = answer.compared_errors
    bound = figures.largest_bound if figures else answer.bounds.largest_worst_case_error
    return bound or 0


def _written(problem: Problem, point: Point) -> TradeOffPoint:
    stacks = built_stacks(problem, point.plan)
    errors = [stack.worst_case_error for stack in stacks]
    # What is proven is that no plan beats the point: its figures are not bounds on all plans.
    return TradeOffPoint(
        total_blocks=point.totals.blocks,
        largest_worst_case_error=max(errors, default=0),
        total_worst_case_error=sum(errors),
        proven=point.proven,
        stacks=stacks,
        compared_errors=compared_figures(problem, point.totals, Bounds(served=len(stacks))),
    )
