"""Outcome and bounds: what is said to be proven does not contradict the stacks."""

from collections import Counter
from collections.abc import Iterator

from wrung.checker.case import Case, Found
from wrung.checker.errors import compared_pairs, errors_first


def outcome(case: Case) -> Iterator[Found]:
    """The outcome follows from which targets are served and from what is proven."""
    answer = case.answer
    # Angle blocks are planned apart, but one outcome speaks for all that was asked for.
    plans = (answer, *(each.plan for each in answer.cases))
    complete = len(answer.stacks) == len(case.requirements) and not any(p.unmet for p in plans)
    some = any(plan.stacks for plan in plans)
    holds = {
        "optimal": complete and answer.proven and answer.objective_proven,
        "feasible": complete and not answer.proven and not answer.objective_proven,
        "partial": some and not complete and (answer.proven or not answer.objective_proven),
        "infeasible": not some and not complete and answer.proven,
        "unknown": not some and not complete and not answer.proven,
    }
    if not holds[answer.outcome]:
        yield None, f"{answer.outcome} contradicts the stacks or what is said to be proven"


def served_bound(case: Case) -> Iterator[Found]:
    """No more is served than proven possible; a proven answer serves just that."""
    served, bound = len(case.answer.stacks), case.answer.bounds.served
    # Less than the bound may be served only while nothing is proven.
    settled = case.answer.proven or case.answer.objective_proven
    if not served <= bound <= len(case.requirements) or (settled and served != bound):
        yield None, f"{served} targets are served and {bound} said to be the most"


def priorities(case: Case) -> Iterator[Found]:
    """Of each priority no more is served than its bound; one is given where those before are met.

    They are the priorities asked for, and add up to what is said of all stacks.
    """
    said = case.answer.bounds.by_priority
    asked = Counter(wanted.priority for wanted in case.requirements.values())
    served = Counter(wanted.priority for _, wanted in case.stacks)
    ordered = sorted(asked, key=lambda each: (each is None, each or 0))
    if [each.priority for each in said] != (ordered if ordered != [None] else []):
        if said or case.answer.proven or case.answer.objective_proven:
            yield None, "they are not those asked for, in their order"
        return
    settled, most = True, 0
    for each in said:
        of = each.priority
        bound = asked[of] if each.served is None else each.served
        if not served[of] <= bound <= asked[of] or (each.served is not None and not settled):
            yield None, f"{each.served} is no bound of priority {of}"
        settled = settled and each.served == served[of]
        most += bound
    if said and most != case.answer.bounds.served:
        yield None, "their bounds do not add up to that of all stacks"
    if said and case.answer.proven and not settled:
        yield None, "a priority is not settled, and all is called proven"


def objective_bounds(case: Case) -> Iterator[Found]:
    """No total is better than its bound; a bound is given only where the one before is met."""
    bounds, pairs = case.answer.bounds, compared_pairs(case.answer)
    settled = bounds.served == len(case.answer.stacks)
    worst_case = (bounds.largest_worst_case_error, bounds.total_worst_case_error)
    if case.answer.compared_errors is not None and worst_case != (None, None):
        yield None, "worst-case errors were not compared"
    for total, bound in pairs if case.answer.objective == "fewest_blocks" else errors_first(pairs):
        if bound is not None and (bound > total or not settled):
            yield None, f"{bound} cannot be a bound of {total}"
        settled = settled and bound == total
    if case.answer.objective_proven and not settled:
        yield None, "the objective is said to be proven, but the bounds are not met"
