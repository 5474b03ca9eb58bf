"""An engine that searches exhaustively: proves everything, as long as the problem is small."""

from solver.oracle import best
from wrung.deadline import Deadline
from wrung.planning.finding import Finding, found, nothing_found, values_of
from wrung.planning.problem import Problem
from wrung.planning.proof import Proof


def search(problem: Problem, deadline: Deadline) -> Finding:
    """The oracle's best plan, in the terms of an engine."""
    if deadline.passed:
        return nothing_found(problem)
    place = {piece.block.id: index for index, piece in enumerate(problem.pieces)}
    wanted = best(
        [piece.block for piece in problem.pieces],
        [demand.requirement for demand in problem.demands],
        objective=problem.objective,
        joint_allowance=problem.joint_allowance,
        most_errors=[demand.most_error for demand in problem.demands],
    )
    plan = tuple(
        None if stack is None else tuple(sorted(place[name] for name in stack))
        for stack in wanted.plan
    )
    return found(problem, plan, Proof(settled=values_of(problem, plan)))
