"""The main job: from blocks and targets to an answer, within a time limit."""

from collections.abc import Collection, Sequence

from msgspec.structs import replace

from wrung.answers import Answer, CasePlan, Objective, Shortage, Unmet
from wrung.arguments import with_tuples
from wrung.blocks import Block
from wrung.checked_types import typed
from wrung.deadline import Cancel, Deadline
from wrung.joints import DEFAULT_JOINT_ALLOWANCE
from wrung.memory import DEFAULT_MEMORY_MB
from wrung.metrology.error_measure import WORST_CASE, ErrorMeasure
from wrung.metrology.required_ratio import RequiredRatio
from wrung.order import Order
from wrung.planning.angle_problem import case_problem
from wrung.planning.asking import limits
from wrung.planning.assembly import answer, with_cases
from wrung.planning.best_plan import BestPlan, best_plan
from wrung.planning.problem import Problem, build_problem
from wrung.planning.shortage.cause import cause
from wrung.planning.shortage.explanation import shortage
from wrung.planning.shortage.rounding import with_rounding
from wrung.planning.unmet import unmet
from wrung.targets import Target
from wrung.targets.angle_cases import angle_cases


@with_tuples
@typed
def solve(  # noqa: PLR0913 -- the options of the main job, all with defaults
    blocks: Sequence[Block],
    targets: Sequence[Target],
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE,
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
    overdue: Collection[str] = (),
    error_measure: ErrorMeasure = WORST_CASE,
    required_ratios: Sequence[RequiredRatio] = (),
    time_limit_ms: float = 2000,
    memory_limit_mb: float = DEFAULT_MEMORY_MB,
    cancel: Cancel | None = None,
) -> Answer:
    """Plan stacks for all targets side by side; of several plans the best by the objective.

    As many stacks as possible are served first. ``fewest_blocks`` then compares the total number
    of blocks, the largest worst-case error of a stack, and the total of these errors;
    ``least_error`` the largest error, the total error, and the number of blocks. Another
    ``error_measure`` puts its figure in the place of the worst-case error; the answer then says in
    ``compared`` what was compared and what is proven of it, and still gives worst-case errors.
    Of plans that are as good, one is chosen whose stacks change few blocks where they follow one
    another; what is proven of that is in ``changes`` of the answer.
    Angle blocks are planned likewise, each case by itself; their plans are in ``cases``.

    Args:
        blocks: the blocks on the shelf; lengths in quanta of 0.01 nm, see `wrung.mm`, `wrung.inch`.
        targets: what must be built.
        objective: what makes a plan the best one.
        joint_allowance: what one wrung joint adds to the worst-case error, quanta.
        exclude: ids of blocks to leave out.
        only: if given, ids of the only blocks to use.
        overdue: ids of blocks to leave out as overdue for calibration, see
            `wrung.metrology.sort_by_due`; if a stack would need them, the answer says so.
        error_measure: the measure by which errors of stacks are compared.
        required_ratios: how much better than a tolerance stacks must be, by that measure; a stack
            that is not counts as none. Blocks that a `Shortage` would add have then a `most_error`.
        time_limit_ms: for the whole call, ms. When it ends, the best plan found is the answer.
        memory_limit_mb: the most memory that the search may hold at any time, MB; if it would need
            more, the best plan found within the limit is the answer.
        cancel: ends the search from another thread; the best plan found is the answer.

    Returns:
        The plan, what is proven of it, and why a target has no stack. "Cannot be built" and "out
        of time" are outcomes, not exceptions.

    Raises:
        InputError: the input contradicts itself; it holds every fault with its pointer.
    """
    search_by = limits(time_limit_ms, memory_limit_mb, cancel)
    order = Order(
        blocks=blocks,
        targets=targets,
        objective=objective,
        joint_allowance=joint_allowance,
        exclude=exclude,
        only=only,
        overdue=overdue,
        error_measure=error_measure,
        required_ratios=required_ratios,
    )
    whole_ms = time_limit_ms * (1 + search_by.tuning.overtime)
    # One `Cancel` for both: whoever cancels wants no explanation to go on, either.
    return answered(order, search_by, Deadline(whole_ms, search_by.cancel, search_by.memory))


def answered(order: Order, search_by: Deadline, answer_by: Deadline) -> Answer:
    """The answer to an order: searched for until one time, explained until another.

    Raises:
        InputError: as `solve`, but for its limits.
    """
    problem = build_problem(order)
    # Angle blocks first, so that what they leave of their share goes to the lengths.
    share = search_by.tuning.share_for_cases if problem.demands else 1
    cases = _cases(order, search_by.share(share))
    lengths = _planned(problem, search_by, answer_by)
    unserved = with_rounding(lengths.unmet, problem, order.targets, answer_by)
    return with_cases(replace(lengths, unmet=unserved), cases, answer_by.elapsed_ms)


def _planned(problem: Problem, search_by: Deadline, answer_by: Deadline) -> Answer:
    best = best_plan(problem, search_by, answer_by)
    explain_by = answer_by.share(1, answer_by.tuning.most_explaining_ms)
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
    nothing = best.finding.most_served == 0
    buildable = tuple(False if nothing else can for can in best.buildable)
    unserved = unmet(problem, best.plan, buildable, deadline.share(deadline.tuning.share_for_unmet))
    told = {each.name: each for each in unserved}
    reasons: dict[int, Unmet] = {}
    for k, demand in enumerate(problem.demands):
        if (each := told.get(demand.requirement.name)) is not None:
            reasons[k] = each
    why = cause(problem, best.plan, reasons, buildable, deadline)
    unbuildable = [k for k, each in reasons.items() if each.reason == "cannot_be_built"]
    most = best.finding.most_served
    return unserved, shortage(problem, best.plan, unbuildable, most, why, deadline)
