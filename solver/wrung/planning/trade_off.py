"""The number of blocks against the largest error: the plans that no other plan beats in both.

The plan with the fewest blocks comes first, with the least largest error that this number allows.
If errors must be smaller than that, the plan with the fewest blocks is the next; and so on until
fewer demands can be served, or until the least largest error is reached, where it is known. (The
epsilon-constraint method: Haimes, Lasdon and Wismer, IEEE Transactions on Systems, Man, and
Cybernetics SMC-1, 1971, cited from memory.)
"""

from collections.abc import Sequence
from typing import Unpack

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Answer
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.choices import TradeOff, TradeOffPoint
from wrung.deadline import Cancel, Deadline, limits
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.options import Options
from wrung.order import Order
from wrung.planning.assembly import built_stacks, compared_figures, plan_of
from wrung.planning.execution import best_plan
from wrung.planning.finding import Finding, found
from wrung.planning.problem import Problem, build_problem
from wrung.planning.proof import Proof
from wrung.targets import Target


class Frontier(Struct, frozen=True, kw_only=True):
    """The known points, fewest blocks first; complete if there are no others and all are proven.

    A point is proven where no other plan beats its own in both.
    """

    points: tuple[Finding, ...]
    complete: bool


def start(problem: Problem, deadline: Deadline) -> Finding:
    """Find the plan with the fewest blocks, in a share of the time."""
    part = deadline.share(deadline.tuning.share_for_a_point)
    return best_plan(replace(problem, objective="fewest_blocks"), part, part).finding


def frontier(problem: Problem, first: Finding, deadline: Deadline, least: int = 0) -> Frontier:
    """Go on from the plan with the fewest blocks as long as there is time.

    No plan that serves as many has a smaller largest error than ``least``.
    """
    if not any(first.plan or ()):
        return Frontier(points=(), complete=first.served_proven)
    points, ended = _followed(replace(problem, objective="fewest_blocks"), first, deadline, least)
    if not first.served_proven:
        points = [replace(point, proof=Proof()) for point in points]
    proven = all(point.objective_proven for point in points)
    return Frontier(points=tuple(points), complete=ended and proven)


def _followed(
    problem: Problem, first: Finding, deadline: Deadline, least: int
) -> tuple[list[Finding], bool]:
    """The points, without plans that a later one beats, and whether this is the end of them."""
    # What plans that serve as many leave out of each class.
    points, missing = [first], first.values[: len(problem.priorities)]
    while (largest := points[-1].totals.largest_error) > least:
        if deadline.passed or len(points) == deadline.tuning.most_trade_off_points:
            return points, False
        smaller = _below(problem, largest)
        best = start(smaller, deadline)
        if best.values[: len(missing)] != missing and not best.proof.rules_out(missing):
            best = best_plan(smaller, deadline, deadline).finding
        # Serving fewer is the end only if it is proven, not if a plan was merely not found.
        if best.values[: len(missing)] != missing:
            return points, best.proof.rules_out(missing)
        # Its error is smaller than all before; points with no fewer blocks were unproven.
        points = [*(p for p in points if p.totals.blocks < best.totals.blocks), best]
    return points, True


def _below(problem: Problem, largest: int) -> Problem:
    """The same with smaller errors."""
    # Errors are whole numbers, so the next smaller one is 1 less at least.
    most = largest - 1
    limited = tuple(
        replace(d, most_error=most if d.most_error is None else min(most, d.most_error))
        for d in problem.demands
    )
    return replace(problem, demands=limited)


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
    deadline = limits(time_limit_ms, cancel, memory_limit_mb)
    problem = build_problem(Order(blocks=blocks, targets=targets, **options))
    first, least = _known(problem, answer, deadline)
    known = frontier(problem, first, deadline, least)
    return TradeOff(
        points=tuple(_written(problem, point) for point in known.points),
        complete=known.complete,
    )


def _known(problem: Problem, answer: Answer, deadline: Deadline) -> tuple[Finding, int]:
    """The plan with the fewest blocks, and the least error for as many stacks, see `frontier`.

    The answer may have one of these ends of the frontier.
    """
    few = problem.objective == "fewest_blocks"
    own = found(replace(problem, objective="fewest_blocks"), plan_of(problem, answer), Proof())
    served = own.totals.served
    settled = own.values if few and answer.objective_proven else own.values[: len(served)]
    if sum(served) == answer.bounds.served:
        own = replace(own, proof=Proof(settled=settled))
    if few or not any(served):
        return own, 0
    begun = start(problem, deadline)
    if begun.totals.served < served:
        return own, 0
    # More demands may need larger errors: a bound holds for one number served only.
    if begun.totals.served > served:
        return begun, 0
    figures = answer.compared_errors
    bound = figures.largest_bound if figures else answer.bounds.largest_worst_case_error
    return begun, bound or 0


def _written(problem: Problem, point: Finding) -> TradeOffPoint:
    stacks = built_stacks(problem, point.plan or ())
    errors = [stack.worst_case_error for stack in stacks]
    # What is proven is that no plan beats the point: its figures are not bounds on all plans.
    return TradeOffPoint(
        total_blocks=point.totals.blocks,
        largest_worst_case_error=max(errors, default=0),
        total_worst_case_error=sum(errors),
        proven=point.objective_proven,
        stacks=stacks,
        compared_errors=compared_figures(problem, point.totals, Proof()),
    )
