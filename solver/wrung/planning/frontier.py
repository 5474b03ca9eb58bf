"""Blocks against the largest error: the plans that no other plan beats in both, one after another.

The plan with the fewest blocks comes first, with the least largest error that this number allows.
If errors must be smaller than that, the plan with the fewest blocks is the next; and so on until
fewer demands can be served, or until the least largest error is reached, where it is known. (The
epsilon-constraint method: Haimes, Lasdon and Wismer, IEEE Transactions on Systems, Man, and
Cybernetics SMC-1, 1971, cited from memory.)
"""

from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.assembly import BestPlan
from wrung.planning.execution import best_plan
from wrung.planning.finding import Plan, Totals, unserved
from wrung.planning.problem import Problem


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
