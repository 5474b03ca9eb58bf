"""The number of blocks against the largest worst-case error, for a whole request."""

from collections.abc import Collection, Sequence

from wrung.answers import Answer, Bounds, Objective
from wrung.blocks import Block
from wrung.choices import TradeOff, TradeOffPoint
from wrung.joints import DEFAULT_JOINT_ALLOWANCE
from wrung.metrology.measuring import WORST_CASE, ErrorMeasure
from wrung.metrology.requiring import RequiredRatio
from wrung.planning.assembly import built_stack, compared_figures
from wrung.planning.deadline import Cancel, Deadline
from wrung.planning.finding import Plan, totals
from wrung.planning.frontier import Point, Start, frontier, start
from wrung.planning.problem import Problem, build_problem
from wrung.targets import Target


def trade_off(  # noqa: PLR0913 -- the options of `wrung.solve`
    blocks: Sequence[Block],
    targets: Sequence[Target],
    answer: Answer,
    *,
    objective: Objective = "fewest_blocks",
    joint_allowance: int = DEFAULT_JOINT_ALLOWANCE,
    exclude: Collection[str] = (),
    only: Collection[str] | None = None,
    error_measure: ErrorMeasure = WORST_CASE,
    required_ratios: Sequence[RequiredRatio] = (),
    time_limit_ms: float = 2000,
    cancel: Cancel | None = None,
) -> TradeOff:
    """How few blocks allow how small a largest error, for all targets side by side.

    The points are plans that serve as many targets as can be served; which these are may differ
    from point to point. Both objectives have the same trade-off: the first point has the fewest
    blocks, the last one the least largest error.

    Args:
        blocks: as given to `wrung.solve`, and so are all that is not explained here.
        targets: as above.
        answer: what `wrung.solve` gave; what it proved is not searched for again.
        objective: as above.
        joint_allowance: as above, quanta.
        exclude: as above.
        only: as above.
        error_measure: as above; the largest error is then by this measure, see ``compared``.
        required_ratios: as above.
        time_limit_ms: for this call alone, ms. When it ends, the points found are the trade-off.
        cancel: ends the search from another thread.

    Returns:
        The points, each proven or not, and whether these are all.

    Raises:
        InputError: as `wrung.solve`.
    """
    deadline = Deadline(time_limit_ms, cancel)
    problem = build_problem(
        blocks,
        targets,
        objective=objective,
        joint_allowance=joint_allowance,
        exclude=exclude,
        only=only,
        measure=error_measure,
        required_ratios=required_ratios,
    )
    found = frontier(problem, _known(problem, answer, deadline), deadline)
    return TradeOff(
        points=tuple(_written(problem, point, joint_allowance) for point in found.points),
        complete=found.complete,
    )


def _known(problem: Problem, answer: Answer, deadline: Deadline) -> Start:
    """What the answer says of the frontier; it may have one of its ends."""
    plan = _plan_of(problem, answer)
    reached = totals(problem, plan)
    served_proven = reached.served == answer.bounds.served
    if problem.objective == "fewest_blocks" or not reached.served:
        first = Point(plan=plan, totals=reached, proven=answer.objective_proven)
        return Start(first=first, served_proven=served_proven)
    begun = start(problem, deadline)
    same = begun.first.totals.served == reached.served
    least = reached.largest_error if same and reached.largest_error == _bound(answer) else None
    return Start(first=begun.first, served_proven=begun.served_proven, least=least)


def _plan_of(problem: Problem, answer: Answer) -> Plan:
    place = {piece.block.id: index for index, piece in enumerate(problem.pieces)}
    stacks = {
        stack.ref: tuple(sorted(place[block.id] for block in stack.blocks))
        for stack in answer.stacks
    }
    return tuple(stacks.get(demand.requirement.ref) for demand in problem.demands)


def _bound(answer: Answer) -> int | None:
    """No plan that serves as many has a smaller largest error, by the measure asked for."""
    if answer.compared is not None:
        return answer.compared.largest_bound
    return answer.bounds.largest_worst_case_error


def _written(problem: Problem, point: Point, joint_allowance: int) -> TradeOffPoint:
    stacks = tuple(
        built_stack(problem, demand, stack, joint_allowance)
        for demand, stack in enumerate(point.plan)
        if stack is not None
    )
    errors = [stack.worst_case_error for stack in stacks]
    # What is proven is that no plan beats the point: its figures are no bounds of all plans.
    return TradeOffPoint(
        total_blocks=point.totals.blocks,
        largest_worst_case_error=max(errors, default=0),
        total_worst_case_error=sum(errors),
        proven=point.proven,
        stacks=stacks,
        compared=compared_figures(problem, point.totals, Bounds(served=point.totals.served)),
    )
