"""What happens to an order, step by step: this file is the order of execution.

1. The order is checked and becomes a problem in whole numbers (`build_problem`).
2. Each case of angle blocks is a problem of its own, with a share of the time (`_cases`).
3. Parts that are never needed at one time are searched one by one (`ask_apart`), each by the first
   engine that can (`engines`): tables of candidate stacks, else the model over single blocks.
4. What an unfinished search left out is filled in, and simple proofs are joined to its own
   (`_searched`).
5. Of plans as good, one that changes few blocks from stack to stack is taken, and of these one that
   is preferred (`settled`).
6. What is not served is explained: each target (`unmet`), whether all were only wanted at once,
   which targets conflict and what would help (`shortage`), coarser steps of rounding.
7. The answer is put together (`assembly`). The checker then judges it by itself.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from wrung.answers import Answer, CasePlan, Shortage, Unmet
from wrung.deadline import Deadline
from wrung.order import Order
from wrung.planning.angle_problem import case_problem
from wrung.planning.assembly import BestPlan, answer, with_cases
from wrung.planning.building.proofs import Proofs
from wrung.planning.finding import found, unserved
from wrung.planning.independent import ask_apart
from wrung.planning.lone import buildable_alone
from wrung.planning.parts import filled, subproblem
from wrung.planning.problem import Problem, build_problem
from wrung.planning.proof import Proof, proof_of
from wrung.planning.shortage.explanation import shortage
from wrung.planning.shortage.remedies import with_rounding
from wrung.planning.solvers import Verdict
from wrung.planning.succession.settling import settled
from wrung.planning.unmet import unmet
from wrung.targets.angle_cases import angle_cases


def answered(order: Order, search_by: Deadline, answer_by: Deadline) -> Answer:
    """The answer to an order: searched for until one time, explained until another.

    Raises:
        InputError: as `solve`, but for its limits.
    """
    with answer_by.stages.timed("check"):
        problem = build_problem(order)
    # Angle blocks first, so that what they leave of their share goes to the lengths.
    share = search_by.tuning.share_for_cases if problem.demands else 1
    cases = _cases(order, search_by.share(share))
    lengths = _planned(problem, search_by, answer_by)
    unserved = with_rounding(lengths.unmet, problem, order.targets, answer_by)
    whole = with_cases(replace(lengths, unmet=unserved), cases, answer_by.elapsed_ms)
    diagnostics = replace(whole.diagnostics, stages=answer_by.stages.times)
    return replace(whole, diagnostics=diagnostics)


def _planned(problem: Problem, search_by: Deadline, answer_by: Deadline) -> Answer:
    best = best_plan(problem, search_by, answer_by)
    explain_by = answer_by.share(1, answer_by.tuning.most_explaining_ms)
    with answer_by.stages.timed("explain"):
        unserved, short = _explained(problem, best, explain_by)
    return answer(problem, best, unserved, short, solve_ms=answer_by.elapsed_ms)


def _cases(order: Order, deadline: Deadline) -> tuple[CasePlan, ...]:
    """The plan for each case of angle blocks; time left over by one goes to the next."""
    cases = angle_cases(order.targets)
    plans: list[CasePlan] = []
    for place, case in enumerate(cases):
        answer_by = deadline.share(1 / (len(cases) - place))
        search_by = answer_by.share(1 - deadline.tuning.overtime)
        problem = case_problem(case, order.objective)
        plan = _planned(problem, search_by, answer_by)
        plans.append(CasePlan(case=case.name, plan=plan))
    return tuple(plans)


def _explained(
    problem: Problem, best: BestPlan, deadline: Deadline
) -> tuple[tuple[Unmet, ...], Shortage | None]:
    """Why some demands are not served; nothing where all are."""
    if None not in best.plan:
        return (), None
    # If no plan serves anything, no demand can be built even alone.
    most = best.finding.most_served
    buildable: tuple[Verdict, ...] = tuple(can if most else "impossible" for can in best.buildable)
    unserved = unmet(problem, best.plan, buildable, deadline.share(deadline.tuning.share_for_unmet))
    missing = (demand for demand, stack in enumerate(best.plan) if stack is None)
    reasons = dict(zip(missing, unserved, strict=True))
    return unserved, shortage(problem, best.plan, reasons, most, deadline)


def best_plan(problem: Problem, search_by: Deadline, answer_by: Deadline) -> BestPlan:
    """The best plan; of several, one that changes few blocks and is preferred."""
    with answer_by.stages.timed("search"):
        best = _searched(problem, search_by, answer_by)
    # An explanation has to follow, if not all are served.
    until = answer_by
    if None in best.plan:
        until = search_by.share(search_by.tuning.share_for_changes)
    with answer_by.stages.timed("changes"):
        last = settled(problem, best.plan, until, best=best.finding.objective_proven)
    finding = best.finding
    if last.plan != best.plan:
        finding = found(problem, last.plan, finding.proof, finding.engine)
    return replace(best, finding=finding, changes=last.changes, preferences=last.preferences)


def _searched(problem: Problem, search_by: Deadline, answer_by: Deadline) -> BestPlan:
    """Search for a plan; what it leaves open is filled in, and simple proofs are joined to its own.

    These are only looked for where the search has not served all; with little time beforehand, as
    then nothing may be left for them.
    """
    buildable: tuple[Verdict, ...] = ()
    most: tuple[int, ...] | None = None
    if search_by.remaining < search_by.tuning.hurried_seconds:
        buildable = buildable_alone(problem, search_by)
        most = _served_at_most(problem, buildable, search_by)
        if sum(most) < len(problem.demands):
            search_by = search_by.keeping(search_by.tuning.most_kept_to_explain_ms)
    finding = ask_apart(problem, search_by) if problem.demands else found(problem, (), Proof())
    plan = finding.plan or (None,) * len(problem.demands)
    if None in plan:
        buildable = buildable or buildable_alone(problem, answer_by)
    if None in plan and not finding.served_proven:
        # What an unfinished search left out may still fit beside its plan.
        plan = filled(problem, plan, answer_by)
        most = most or _served_at_most(problem, buildable, answer_by)
        # A proof is about every plan, so it also holds beside a plan that was filled up.
        proof = finding.proof.joined(proof_of(unserved(problem, most)))
        finding = found(problem, plan, proof, finding.engine)
    return BestPlan(finding=finding, buildable=buildable)


def _served_at_most(
    problem: Problem, buildable: Sequence[Verdict], deadline: Deadline
) -> tuple[int, ...]:
    """By class, no plan that serves as many of those before it serves more: simple proofs."""
    part = subproblem(problem, [k for k, can in enumerate(buildable) if can != "impossible"])
    # Demands that are needed at different times cannot conflict.
    alone = int(part.at_one_time.sum()) == len(part.demands)
    if alone or deadline.remaining < deadline.tuning.least_seconds_for_proofs:
        return part.sizes
    share = deadline.share(deadline.tuning.share_for_proofs)
    return Proofs(part, deadline.tuning).served_at_most(part.sizes, share)
