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
from wrung.planning.assembly import BestPlan, built_stacks, compared_figures, plan_of
from wrung.planning.execution import best_plan
from wrung.planning.finding import Plan, Totals, totals, unserved
from wrung.planning.problem import Problem, build_problem
from wrung.planning.proof import Proof
from wrung.targets import Target


class Point(Struct, frozen=True, kw_only=True):
    """A plan, its values, and whether none beats it (proven)."""

    plan: Plan
    totals: Totals
    proven: bool


class Frontier(Struct, frozen=True, kw_only=True):
    """The known points, fewest blocks first; complete if there are no others and all are proven."""

    points: tuple[Point, ...]
    complete: bool


class Start(Struct, frozen=True, kw_only=True):
    """What is known beforehand.

    Attributes:
        first: the plan with the fewest blocks.
        served_proven: no plan serves more demands than it does.
        least: no plan that serves as many has a smaller largest error; 0 says nothing.
    """

    first: Point
    served_proven: bool
    least: int = 0


def start(problem: Problem, deadline: Deadline) -> Start:
    """Find the plan with the fewest blocks."""
    part = deadline.share(deadline.tuning.share_for_a_point)
    best = best_plan(replace(problem, objective="fewest_blocks"), part, part)
    return Start(first=_point(best), served_proven=best.finding.served_proven)


def frontier(problem: Problem, known: Start, deadline: Deadline) -> Frontier:
    """Go on from the first point as long as there is time."""
    return _Walk(problem, known, deadline).run()


class _Walk:
    """Go from point to point; plans that a later one beats are dropped."""

    def __init__(self, problem: Problem, known: Start, deadline: Deadline) -> None:
        self._problem = replace(problem, objective="fewest_blocks")
        self._known = known
        self._deadline = deadline
        self._served = known.first.totals.served
        self._points = [known.first]

    def run(self) -> Frontier:
        """All points, or as many as there is time for."""
        if not any(self._served):
            return Frontier(points=(), complete=self._known.served_proven)
        ended = self._walk(self._known.least)
        proven = self._known.served_proven and all(point.proven for point in self._points)
        return Frontier(points=tuple(self._points), complete=ended and proven)

    def _walk(self, least: int) -> bool:
        """Whether the frontier was followed to its end."""
        while (largest := self._points[-1].totals.largest_error) > least:
            if (
                self._deadline.passed
                or len(self._points) == self._deadline.tuning.most_trade_off_points
            ):
                return False
            best = self._below(largest, self._deadline.tuning.share_for_a_point)
            if self._open(best):
                best = self._below(largest, 1.0)
            # Serving fewer is the end only if it is proven, not if a plan was merely not found.
            if best.totals.served != self._served:
                return not self._open(best)
            self._add(_point(best))
        return True

    def _open(self, best: BestPlan) -> bool:
        """Whether no plan was found, and none was ruled out."""
        own = unserved(self._problem, self._served)
        return best.totals.served != self._served and not best.finding.proof.rules_out(own)

    def _below(self, largest: int, share: float) -> BestPlan:
        """The plan with the fewest blocks and a smaller largest error."""
        # Errors are whole numbers, so the next smaller one is 1 less at least.
        most = largest - 1
        limited = tuple(
            replace(d, most_error=most if d.most_error is None else min(most, d.most_error))
            for d in self._problem.demands
        )
        part = self._deadline.share(share)
        return best_plan(replace(self._problem, demands=limited), part, part)

    def _add(self, point: Point) -> None:
        """Its error is smaller than all before; points with no fewer blocks were unproven."""
        proven = point.proven and self._known.served_proven
        fewer = [p for p in self._points if p.totals.blocks < point.totals.blocks]
        self._points = [*fewer, replace(point, proven=proven)]


def _point(best: BestPlan) -> Point:
    return Point(plan=best.plan, totals=best.totals, proven=best.finding.objective_proven)


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
        compared_errors=compared_figures(problem, point.totals, Proof()),
    )
