"""Large neighbourhood search: a few stacks of a plan are built anew, all others stay as they are.

For a few stacks and pieces that the others leave, the best plan is found and mostly proven in a
moment, where that of all takes long (Shaw, *Principles and Practice of Constraint Programming*,
1998; from memory).
"""

from collections import Counter
from collections.abc import Collection, Sequence

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.finding import Engine, Plan, values_of
from wrung.planning.parts import subproblem
from wrung.planning.problem import Problem, error_of, rivals


def improved(problem: Problem, plan: Plan, search: Engine, deadline: Deadline) -> Plan:
    """The plan, or a better one by the goals in order, as far as found soon.

    The stack with the largest error is built anew beside a few others, one group after another,
    until none of them gives a better plan.
    """
    in_vain, best, tuning = 0, values_of(problem, plan), deadline.tuning
    while not deadline.passed:
        groups = _groups(problem, plan, tuning.stacks_built_anew)
        if in_vain == len(groups):
            break
        until = deadline.share(tuning.share_for_building_anew)
        other = _built_anew(problem, plan, groups[in_vain], search, until)
        values = values_of(problem, other)
        in_vain = 0 if values < best else in_vain + 1
        plan, best = (other, values) if values < best else (plan, best)
    return plan


def _groups(problem: Problem, plan: Plan, most: int) -> Sequence[Sequence[int]]:
    """The demand with the largest error beside a few others; each of these is in two groups.

    There are no groups where one would hold all demands.
    """
    served = [(demand, stack) for demand, stack in enumerate(plan) if stack is not None]
    order = sorted(served, key=lambda each: (-error_of(problem, *each), -len(each[1])))
    worst, others = [k for k, _ in order[:1]], [k for k, _ in order[1:]]
    apart = range(-(-len(others) // (most - 1)))
    spread = [worst + others[k :: len(apart)] for k in apart]
    alike = [worst + others[k * (most - 1) : (k + 1) * (most - 1)] for k in apart]
    return spread + alike if len(apart) > 1 else []


def _built_anew(
    problem: Problem, plan: Plan, demands: Collection[int], search: Engine, deadline: Deadline
) -> Plan:
    """The plan with the best stacks of these demands, of pieces that the others leave."""
    free = _free(problem, plan, demands, deadline.tuning.free_alike)
    part, pieces = subproblem(problem, demands), tuple(problem.pieces[k] for k in free)
    finding = search(replace(part, pieces=pieces), deadline)
    if finding is None or finding.plan is None:
        return plan
    stacks = dict(zip(sorted(demands), finding.plan, strict=True))
    anew = {k: None if own is None else tuple(free[i] for i in own) for k, own in stacks.items()}
    return tuple(anew.get(demand, stack) for demand, stack in enumerate(plan))


def _free(problem: Problem, plan: Plan, demands: Collection[int], most_alike: int) -> Sequence[int]:
    """The pieces of these demands, and some that no stack holds beside them."""
    own = {k for demand in demands for k in plan[demand] or ()}
    beside = {k for demand in demands for k in rivals(problem, demand)}.difference(demands)
    held = set(problem.taken_by([k for demand in beside for k in plan[demand] or ()]))
    free, alike = list[int](), Counter[tuple[bool, bool, int]]()
    for number, piece in enumerate(problem.pieces):
        # One of their own may be held beside others of them, at another time.
        if number not in held and (number in own or alike[piece.likeness] < most_alike):
            free.append(number)
            alike[piece.likeness] += 1
    return free
