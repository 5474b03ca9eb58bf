"""Outcome and bounds: what is said to be proven does not contradict the stacks."""

from collections import Counter
from collections.abc import Iterator

from wrung.checker.case import Breach, Case, claim
from wrung.checker.changes import changes_bound_fault
from wrung.checker.errors import (
    bounds_of,
    compared_pairs,
    errors_first,
)


def changes_bound(case: Case) -> Iterator[Breach]:
    """No more blocks are said to have to change than do."""
    fault = changes_bound_fault(case.answer)
    if fault is not None:
        yield claim(rule="changes bound", detail=fault)


def outcome(case: Case) -> Iterator[Breach]:
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
        detail = f"{answer.outcome} contradicts the stacks or what is said to be proven"
        yield claim(rule="outcome", detail=detail)


def served_bound(case: Case) -> Iterator[Breach]:
    """No more is served than proven possible; a proven answer serves just that."""
    served, bound = len(case.answer.stacks), case.answer.bounds.served
    # Less than the bound may be served only while nothing is proven.
    settled = case.answer.proven or case.answer.objective_proven
    if not served <= bound <= len(case.requirements) or (settled and served != bound):
        detail = f"{served} targets are served and {bound} said to be the most"
        yield claim(rule="served bound", detail=detail)


def priorities(case: Case) -> Iterator[Breach]:
    """Of each priority no more is served than its bound; one is given where those before are met.

    They are the priorities asked for, and add up to what is said of all stacks.
    """
    said = case.answer.bounds.by_priority
    asked = Counter(wanted.priority for wanted in case.requirements.values())
    served = Counter(wanted.priority for _, wanted in case.stacks())
    ordered = sorted(asked, key=lambda each: (each is None, each or 0))
    if [each.priority for each in said] != (ordered if ordered != [None] else []):
        if said or case.answer.proven or case.answer.objective_proven:
            yield claim(rule="priorities", detail="they are not those asked for, in their order")
        return
    settled, most = True, 0
    for each in said:
        of = each.priority
        bound = asked[of] if each.served is None else each.served
        if not served[of] <= bound <= asked[of] or (each.served is not None and not settled):
            yield claim(rule="priorities", detail=f"{each.served} is no bound of priority {of}")
        settled = settled and each.served == served[of]
        most += bound
    if said and most != case.answer.bounds.served:
        yield claim(rule="priorities", detail="their bounds do not add up to that of all stacks")
    if said and case.answer.proven and not settled:
        yield claim(rule="priorities", detail="a priority is not settled, and all is called proven")


def objective_bounds(case: Case) -> Iterator[Breach]:
    """No total is better than its bound; a bound is given only where the one before is met."""
    settled = case.answer.bounds.served == len(case.answer.stacks)
    pairs = compared_pairs(case.answer)
    if case.answer.compared_errors is not None and bounds_of(case.answer.bounds)[1:] != (
        None,
        None,
    ):
        yield claim(rule="objective bounds", detail="worst-case errors were not compared")
    for total, bound in pairs if case.answer.objective == "fewest_blocks" else errors_first(pairs):
        if bound is not None and (bound > total or not settled):
            yield claim(rule="objective bounds", detail=f"{bound} cannot be a bound of {total}")
        settled = settled and bound == total
    if case.answer.objective_proven and not settled:
        detail = "the objective is said to be proven, but the bounds are not met"
        yield claim(rule="objective bounds", detail=detail)
