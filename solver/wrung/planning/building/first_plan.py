"""A first plan, made in milliseconds: what a search begins with, or falls back on."""

from wrung.planning.building.builder import Builder
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Plan
from wrung.planning.parts import filled, put, rivals
from wrung.planning.problem import Problem


def first_plan(problem: Problem, deadline: Deadline) -> Plan:
    """One stack after another from the pieces left, as far as there are any and there is time."""
    plan: Plan = (None,) * len(problem.demands)
    if deadline.passed or not problem.demands:
        return plan
    builder = Builder(problem)
    if builder.quick:
        plan = _one_after_another(problem, plan, builder, deadline)
    # Those that have no stack as yet may be built from what is left by an exact search.
    return filled(problem, plan, deadline)


def _one_after_another(problem: Problem, plan: Plan, builder: Builder, deadline: Deadline) -> Plan:
    held = [0] * len(plan)
    for demand in range(len(plan)):
        taken = 0
        for rival in rivals(problem, demand):
            taken |= held[rival]
        held[demand] = builder.stack(demand, taken, deadline)
        if held[demand]:
            stack = tuple(k for k in range(len(problem.pieces)) if held[demand] >> k & 1)
            plan = put(plan, demand, stack)
    return plan
