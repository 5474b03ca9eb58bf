"""The engine: proven best plans from candidate stacks.

1. The best stack of each demand, alone (one table serves all). If no piece is wanted twice, that
   is the answer.
2. Otherwise: how many demands can be served at all (objectives/serving.py), then the objectives in
   order (lexicographic.py there), each settled over all candidates that could be part of a best
   plan.
"""

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import by_error, by_nominal
from wrung.planning.candidates.workbench import Workbench, set_up, spelt_out
from wrung.planning.finding import Finding, Plan, found, totals
from wrung.planning.objectives.alone import Alone, as_finding, bound_alone, each_alone
from wrung.planning.objectives.among_all import best_among_all
from wrung.planning.objectives.lexicographic import best_below, best_in_order
from wrung.planning.objectives.single import single
from wrung.planning.problem import Demand, Problem
from wrung.planning.proof import Proof


def search(problem: Problem, deadline: Deadline) -> Finding | None:
    """A best plan, or bounds alone; None without enough time or with tables too large."""
    if problem.signed:
        return None
    stock = by_error(problem)
    if (quick := single(problem, stock, deadline)) is not None:
        return quick
    exact = set_up(problem, stock, deadline)
    if exact is None:
        return _near_targets(problem, deadline)
    return _searched(problem, exact, deadline)


def _near_targets(problem: Problem, deadline: Deadline) -> Finding | None:
    """Where tolerances have too many lengths: a plan of lengths near the targets that serves all.

    No better plan has a stack with a larger error than its largest, and that may leave few enough
    of all lengths.
    """
    wide = any(demand.low < demand.high for demand in problem.demands)
    if problem.objective != "least_error" or not wide:
        return None
    for part in deadline.tuning.parts_of_tolerances:
        nearer = tuple(_nearer(demand, part) for demand in problem.demands)
        near = replace(problem, demands=nearer)
        exact = set_up(near, by_error(near), deadline)
        finding = None if exact is None else _searched(near, exact, deadline)
        plan = None if finding is None else finding.plan
        # Others may serve more with lengths farther away.
        if plan is not None and None not in plan:
            return _of_all_lengths(problem, plan, deadline)
    return None


def _of_all_lengths(problem: Problem, plan: Plan, deadline: Deadline) -> Finding:
    """The best plan, or one that serves all as this one does."""
    known = found(problem, plan, Proof(settled=(0,) * len(problem.priorities)))
    largest = totals(problem, plan).largest_error
    exact = set_up(problem, by_error(problem), deadline, most_error=largest)
    return known if exact is None else best_below(exact, plan, deadline)


def _nearer(demand: Demand, part: int) -> Demand:
    """Of its tolerance one part in so many, about the target or the end that is nearest to it."""
    middle = min(max(demand.target, demand.low), demand.high)
    half = (demand.high - demand.low) // part
    return replace(demand, low=max(demand.low, middle - half), high=min(demand.high, middle + half))


def _searched(problem: Problem, exact: Workbench, deadline: Deadline) -> Finding | None:
    alone = each_alone(exact)
    if (finding := as_finding(exact, alone)) is not None:
        return finding
    finding = _contended(problem, exact, alone, deadline)
    if not alone.exact:
        return finding
    bound = bound_alone(problem, alone)
    return bound if finding is None else replace(finding, proof=finding.proof.joined(bound.proof))


def _contended(
    problem: Problem, exact: Workbench, alone: Alone, deadline: Deadline
) -> Finding | None:
    if deadline.passed:
        return None
    listed = best_among_all(exact, deadline)
    if listed is not None:
        return listed
    exact = spelt_out(exact)
    # Where errors are limited, nominal lengths alone do not decide what can be built.
    if problem.limits_errors:
        return best_in_order(exact, exact, alone, deadline)
    nominal = set_up(problem, by_nominal(problem), deadline)
    if nominal is None:
        return None
    return best_in_order(exact, spelt_out(nominal), alone, deadline)
