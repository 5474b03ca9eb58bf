"""The direct engine: a CP-SAT model over single blocks, for every problem there is.

It settles the goals in their order: each stage has the results of those before it as further rules.
"""

from collections.abc import Sequence

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import Choices, Rule, model_of, solve
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.building.stacking import first_plan
from wrung.planning.finding import Finding, Plan, found, values_of
from wrung.planning.parts import subproblem
from wrung.planning.problem import Problem
from wrung.planning.proof import goals_of, staged


def search(problem: Problem, deadline: Deadline, further: Sequence[Rule] = ()) -> Finding:
    """The best plan that is found before the deadline, and what is proven of it.

    Plans keep to the ``further`` rules, too.
    """
    plan: Plan = (None,) * len(problem.demands)
    if not further:
        # It is built without the model, and so without the further rules.
        plan = first_plan(problem, deadline.share(deadline.tuning.share_for_start))
    scaled = Scaled(problem)
    # Those of which no length can be built are not served.
    least = zip(problem.sizes, subproblem(problem, scaled.open).sizes, strict=True)
    bounds = [size - most for size, most in least]
    choices = model_of(scaled, (*RULES, *further), deadline)
    if choices is not None:
        plan = _settled(problem, choices, plan, bounds, deadline)
    proof = staged(values_of(problem, plan), bounds)
    said = any(plan) or len(proof.settled) >= len(problem.priorities)
    return found(problem, plan if said else None, proof)


def _settled(
    problem: Problem, choices: Choices, plan: Plan, bounds: list[int], deadline: Deadline
) -> Plan:
    """The best plan; bounds are raised, goal after goal, until one stays open."""
    bounds += [0] * (len(goals_of(problem)) - len(bounds))
    for place, (goal, unit) in enumerate(choices.goals()):
        if values_of(problem, plan)[place] > bounds[place]:
            result = solve(choices, goal, plan, deadline)
            plan = min(plan, result.plan or plan, key=lambda each: values_of(problem, each))
            bounds[place] = max(bounds[place], (result.bound or 0) * unit)
        value = values_of(problem, plan)[place]
        if value > bounds[place]:
            break
        choices.model.add(goal <= value // unit)
    return plan
