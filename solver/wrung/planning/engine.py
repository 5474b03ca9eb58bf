"""The engine: proven best plans from candidate stacks.

1. The best stack of each demand, alone (one table serves all). If no piece is wanted twice, that
   is the answer.
2. Otherwise: how many demands can be served at all (objectives/serving.py), then the objectives in
   order (lexicographic.py there), each settled over all candidates that could be part of a best
   plan.
"""

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.building.stacking import nearer
from wrung.planning.candidates.goals import BLOCK
from wrung.planning.candidates.stock import by_error, by_nominal
from wrung.planning.candidates.workbench import Workbench, set_up, spelt_out
from wrung.planning.finding import Finding, Plan, found, found_in_stages, unserved, values_of
from wrung.planning.objectives.alone import Alone, as_finding, bound_alone, each_alone
from wrung.planning.objectives.among_all import best_among_all
from wrung.planning.objectives.lexicographic import best_in_order
from wrung.planning.objectives.single import single
from wrung.planning.problem import Problem
from wrung.planning.proof import Proof


def search(problem: Problem, deadline: Deadline) -> Finding | None:
    """A best plan, or bounds alone; None without enough time or with tables too large."""
    if problem.signed:
        return None
    stock = by_error(problem)
    if (quick := single(problem, stock, deadline)) is not None:
        return quick
    exact = set_up(problem, stock, deadline) or set_up(problem, stock, deadline, some=True)
    if exact is None:
        return _near_targets(problem, deadline)
    finding = _searched(exact)
    return _of_all(exact, finding) if finding and exact.cheapest else finding


def _near_targets(problem: Problem, deadline: Deadline) -> Finding | None:
    """In a hurry, for least errors: a plan of lengths near the targets."""
    if problem.objective != "least_error" or not problem.tolerant:
        return None
    plans: list[Plan] = []
    for part in deadline.tuning.parts_of_tolerances:
        if deadline.passed:
            break
        near = nearer(problem, part)
        exact = set_up(near, by_error(near), deadline)
        finding = None if exact is None else _searched(exact)
        plan = None if finding is None else finding.plan
        if plan is not None and None not in plan:
            return found(problem, plan, Proof(settled=(0,) * len(problem.priorities)))
        plans += [plan] if plan else []
    # Others may serve more with lengths farther away.
    best = min(plans, key=lambda plan: values_of(problem, plan), default=None)
    return None if best is None else found(problem, best, Proof())


def _of_all(bench: Workbench, finding: Finding) -> Finding | None:
    """What the best plan of some starts is among those of all: it may be the best of them."""
    problem, cheapest, plan = bench.problem, bench.cheapest, finding.plan
    if cheapest is None or plan is None:
        return None
    # None may be kept of a demand that could be built from those left out.
    buildable = cheapest.buildable
    if any(plan[demand] is None for demand in buildable.tolist()):
        # With other starts, more may be served.
        return found(problem, plan, Proof())
    most = unserved(problem, bench.counts(buildable))
    value = finding.values[len(most)]
    unit = BLOCK if problem.objective == "fewest_blocks" else 1
    if value * unit <= cheapest.complete:
        return finding
    levels, bound = finding.proof.levels, cheapest.least
    if levels[: len(most)] == most and len(levels) > len(most):
        bound = min(levels[len(most)] * unit, cheapest.complete + 1)
    return found_in_stages(problem, plan, (*most, bound // unit))


def _searched(exact: Workbench) -> Finding | None:
    alone = each_alone(exact)
    if (finding := as_finding(exact, alone)) is not None:
        return finding
    finding = _contended(exact, alone)
    if not alone.exact:
        return finding
    bound = bound_alone(exact, alone)
    return bound if finding is None else replace(finding, proof=finding.proof.joined(bound.proof))


def _contended(exact: Workbench, alone: Alone) -> Finding | None:
    problem, deadline = exact.problem, exact.deadline
    if deadline.passed:
        return None
    if (listed := best_among_all(exact)) is not None:
        return listed
    exact = spelt_out(exact)
    # Where errors are limited, nominal lengths alone do not decide what can be built. Some starts
    # take long to find, and those of equal costs would not be the same.
    alike = not problem.limits_errors and exact.cheapest is None
    nominal = set_up(problem, by_nominal(problem), deadline) if alike else None
    # Where the shelf has few of the many lengths of a tolerance, only those were set up.
    by_length = exact if nominal is None else spelt_out(nominal)
    return best_in_order(exact, by_length, alone, search, deadline)
