"""Each demand by itself: where no piece is wanted twice, that is already the best plan."""

from math import gcd

import numpy as np
from msgspec import Struct

from wrung.planning.assignment import hand_out
from wrung.planning.candidates.goals import Goal, first_window, objective_goal
from wrung.planning.candidates.search import Search
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Finding, found, found_best, unserved
from wrung.planning.objectives.serving import own_caps
from wrung.planning.proof import proof_of
from wrung.planning.selection.choice import usages


class Alone(Struct, frozen=True, kw_only=True):
    """Demands as if each were the only one.

    Attributes:
        exact: whether no candidate is better than those seen.
        least: by demand, no candidate costs less; `NEVER` where there is none.
        best: the best stack seen of each demand.
        seen: all candidates that were looked at.
        signs: whether that needed all sides of the error, see `goals.error_goal`.
    """

    exact: bool
    least: Ints
    best: Candidates
    seen: Candidates
    signs: bool


def each_alone(bench: Workbench) -> Alone:
    """The best by the objective, or some stacks if there are too many candidates."""
    # Fewer tables first; tables for all sides only pay where a search grows too large.
    quick = _each_alone(bench, signs=False)
    few = len(bench.problem.demands) <= bench.deadline.tuning.few_stacks
    # Fewest blocks need this only where no piece is wanted twice, which many stacks seldom keep to.
    thorough = few or bench.problem.objective == "least_error"
    return _each_alone(bench, signs=True) if thorough and not quick.exact else quick


def _each_alone(bench: Workbench, *, signs: bool) -> Alone:
    goal = objective_goal(bench.problem, bench.stock, bench.starts, signs=signs)
    search = Search(bench, goal, own_caps(bench))
    tuning = bench.deadline.tuning
    most = tuning.most_partial_alone if signs else tuning.most_partial_alone_quick
    cheapest = search.cheapest(first_window(bench.stock), most)
    seen = cheapest.candidates
    return Alone(
        exact=cheapest.exact,
        least=cheapest.least,
        best=_best_of_each(goal, seen),
        seen=seen,
        signs=signs,
    )


def _best_of_each(goal: Goal, seen: Candidates) -> Candidates:
    if len(seen) == 1:
        return seen
    # The last key counts first, so the first row of each demand is its best.
    order = np.lexsort((seen.counts, goal.costs(seen), seen.demands))
    _, first = np.unique(seen.demands[order], return_index=True)
    return seen.where(order[first])


def as_finding(bench: Workbench, alone: Alone) -> Finding | None:
    """The best stacks together; None if not known, or if some piece is wanted twice at one time."""
    if not alone.exact or any(True for _ in usages(bench, alone.best)):
        return None
    return found_best(bench.problem, hand_out(bench, alone.best))


def bound_alone(bench: Workbench, alone: Alone) -> Finding:
    """No plan, only the bounds that the single stacks give for every plan that serves them all."""
    problem, best = bench.problem, alone.best
    few = problem.objective == "fewest_blocks"
    # Side by side, stacks never have fewer blocks or smaller errors than each alone.
    bound = int(best.counts.sum() if few else best.errors.max(initial=0))
    missing = unserved(problem, bench.counts(best.demands))
    return found(problem, None, proof_of((*missing, bound)))


def error_grain(bench: Workbench) -> int:
    """All errors are multiples of it."""
    if bench.stock.squares:
        # Squares are rounded down, so a divisor of their parts need not divide them.
        return 1
    own = (bench.stock.deviations, bench.stock.burdens, bench.starts.offsets, bench.starts.burdens)
    return max(gcd(*(int(n) for values in own for n in np.unique(values))), 1)
