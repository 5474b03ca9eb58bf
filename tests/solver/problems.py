"""A generated request as the problem that engines work on."""

from wrung.order import Order
from wrung.planning.problem import Problem, build_problem
from wrung.testing import Request


def problem_of(request: Request) -> Problem:
    """With all its options."""
    return build_problem(
        Order(
            blocks=request.blocks,
            targets=request.targets,
            objective=request.objective,
            joint_allowance=request.joint_allowance,
            exclude=request.exclude,
            only=request.only,
        )
    )
