"""The engine: proven best plans from candidate stacks.

1. The best stack of each demand, alone (one table serves all). If no piece is wanted twice, that
   is the answer.
2. Otherwise: how many demands can be served at all (objectives/serving.py), then the objectives in
   order (few.py, least.py there), each settled over all candidates that could be part of a best
   plan.
"""

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import by_error, by_nominal
from wrung.planning.candidates.workbench import Workbench, set_up, spelt_out
from wrung.planning.finding import Finding
from wrung.planning.objectives.alone import Alone, as_finding, bound_alone, each_alone
from wrung.planning.objectives.few import fewest_blocks
from wrung.planning.objectives.least import least_error
from wrung.planning.problem import Problem


def search(problem: Problem, deadline: Deadline) -> Finding | None:
    """A best plan, or bounds alone; None without enough time or with tables too large."""
    if problem.signed:
        return None
    exact = set_up(problem, by_error(problem), deadline)
    if exact is None:
        return None
    alone = each_alone(exact)
    if alone is not None and (finding := as_finding(exact, alone)) is not None:
        return finding
    found = _contended(problem, exact, alone, deadline)
    return found if found is not None or alone is None else bound_alone(problem, alone)


def _contended(
    problem: Problem, exact: Workbench, alone: Alone | None, deadline: Deadline
) -> Finding | None:
    # Where errors are limited, nominal lengths alone do not decide what can be built.
    limited = problem.limits_errors
    if deadline.passed:
        return None
    nominal = exact if limited else set_up(problem, by_nominal(problem), deadline)
    if nominal is None:
        return None
    same = nominal is exact
    exact = spelt_out(exact)
    nominal = exact if same else spelt_out(nominal)
    if problem.objective == "fewest_blocks":
        return fewest_blocks(exact, nominal, deadline)
    return None if alone is None else least_error(exact, nominal, alone, deadline)
