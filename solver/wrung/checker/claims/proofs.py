"""Outcome and bounds: what is said to be proven does not contradict the stacks."""

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
