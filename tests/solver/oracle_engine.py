"""An engine that searches exhaustively: proves everything, as long as the problem is small."""

from solver.oracle import best
from wrung.answers import Bounds
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Finding, totals
from wrung.planning.problem import Problem


def search(problem: Problem, deadline: Deadline) -> Finding:
    """The oracle's best plan, in the terms of an engine."""
    if deadline.passed:
        return nothing(problem)
    place = {piece.block.id: index for index, piece in enumerate(problem.pieces)}
    found = best(
        [piece.block for piece in problem.pieces],
        [demand.requirement for demand in problem.demands],
        objective=problem.objective,
        joint_allowance=problem.joint_allowance,
        most_errors=[demand.most_error for demand in problem.demands],
    )
    plan = tuple(
        None if stack is None else tuple(sorted(place[name] for name in stack))
        for stack in found.plan
    )
    reached = totals(problem, plan)
    return Finding(
        plan=plan,
        served_proven=True,
        objective_proven=True,
        bounds=Bounds(
            served=reached.served,
            total_blocks=reached.blocks,
            largest_worst_case_error=reached.largest_error,
            total_worst_case_error=reached.total_error,
        ),
    )


def nothing(problem: Problem) -> Finding:
    """What an engine hands back when the time ends before it has anything."""
    return Finding(
        plan=None,
        served_proven=False,
        objective_proven=False,
        bounds=Bounds(served=len(problem.demands)),
    )
