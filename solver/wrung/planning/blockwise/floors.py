"""What each stack costs alone, and so a lower bound on the cost of every plan."""

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.blockwise.least_sums import LeastSums, least_sums
from wrung.planning.blockwise.scaled import Scaled, scale
from wrung.planning.problem import Problem
from wrung.planning.proof import Goal


class Floors(Struct, frozen=True, kw_only=True):
    """Least sums, each None where it takes too long or is not needed.

    Attributes:
        scaled: the problem without the demands that cannot be built even alone.
        blocks: with 1 for each piece.
        burdens: of the burdens, with one joint too many for each stack.
        over: of the burdens plus the deviations.
        under: of the burdens less the deviations.
    """

    scaled: Scaled
    blocks: LeastSums | None
    burdens: LeastSums | None = None
    over: LeastSums | None = None
    under: LeastSums | None = None

    def of(self, goal: Goal) -> int:
        """No plan that serves all open demands does better by the goal; errors in quanta."""
        sums, less, unit = self.blocks, 0, 1
        if goal != "blocks":
            sums, less, unit = self.burdens, self.scaled.joint, self.scaled.grain
        if sums is None:
            return 0
        least = [sums.least(self.scaled.windows[k]) for k in self.scaled.open]
        # Pieces bring a joint each, which is one more than the stack has.
        costs = [(cost - less) * unit for cost in least if cost is not None]
        # A plan's largest error is no less than any of them, its total no less than their sum.
        return max(costs, default=0) if goal == "largest" else sum(costs)


def floors(problem: Problem, deadline: Deadline) -> Floors:
    """Scale the problem and find the sums, as far as time allows."""
    scaled = scale(problem)
    blocks = least_sums(scaled, [1] * len(scaled.kinds), deadline)
    if blocks is None:
        return Floors(scaled=scaled, blocks=None)
    scaled = scaled.without([k for k in scaled.open if _hopeless(scaled, blocks, k)])
    by_error = problem.objective == "least_error"
    wide = not scaled.squares and any(len(window) > 1 for window in scaled.windows)
    pairs = list(zip(scaled.burdens, scaled.deviations, strict=True))
    over, under = [burden + off for burden, off in pairs], [burden - off for burden, off in pairs]
    return Floors(
        scaled=scaled,
        blocks=blocks,
        burdens=least_sums(scaled, scaled.burdens, deadline) if by_error else None,
        over=least_sums(scaled, over, deadline) if wide else None,
        under=least_sums(scaled, under, deadline) if wide else None,
    )


def _hopeless(scaled: Scaled, blocks: LeastSums, demand: int) -> bool:
    least = blocks.least(scaled.windows[demand])
    return least is None or least > scaled.problem.demands[demand].most
