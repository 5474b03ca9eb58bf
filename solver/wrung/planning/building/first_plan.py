"""A first plan, made in milliseconds: what a search begins with, or falls back on."""

from wrung.deadline import Deadline
from wrung.planning.building.coarse_tables import as_pieces
from wrung.planning.building.stacking import Held, Stacking
from wrung.planning.finding import Plan
from wrung.planning.parts import filled
from wrung.planning.problem import Problem


def first_plan(problem: Problem, deadline: Deadline) -> Plan:
    """One stack after another from the pieces left, as far as pieces and time allow."""
    plan: Plan = (None,) * len(problem.demands)
    if deadline.passed or not problem.demands:
        return plan
    stacking = Stacking(problem, deadline.tuning.effort_of_first_plan, deadline.tuning)
    if stacking.builder.quick:
        held = _changed(_one_after_another(plan, stacking, deadline), stacking, deadline)
        plan = tuple(as_pieces(mask) or None for mask in held)
    # An exact search may still build the missing stacks from the pieces left.
    return filled(problem, plan, deadline)


def _one_after_another(plan: Plan, stacking: Stacking, deadline: Deadline) -> Held:
    held = stacking.held(plan)
    for demand in range(len(plan)):
        held = stacking.with_stack(held, demand, deadline) or held
    return held


def _changed(held: Held, stacking: Stacking, deadline: Deadline) -> Held:
    """The plan, with more demands served by rebuilding some stacks."""
    for demand, mask in enumerate(held):
        if not mask and stacking.effort > 0 and not deadline.passed:
            held = stacking.with_one_more(held, demand, deadline) or held
    return held
