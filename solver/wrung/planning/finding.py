"""What an engine hands back: which pieces serve which demand, and what is proven of it."""

from typing import Protocol, TypeAlias

from msgspec import Struct

from wrung.answers import Bounds
from wrung.planning.deadline import Deadline
from wrung.planning.problem import Problem, worst_case_error

Plan: TypeAlias = tuple[tuple[int, ...] | None, ...]
"""Per demand the ascending indexes of its pieces, or None where it is not served."""


class Totals(Struct, frozen=True, kw_only=True, order=True):
    """The objective values of a plan; errors in quanta."""

    served: int
    blocks: int
    largest_error: int
    total_error: int


class Finding(Struct, frozen=True, kw_only=True):
    """An engine's answer.

    Attributes:
        plan: the best plan found; None if the time ended before any was known.
        served_proven: no plan serves more demands.
        objective_proven: no plan that serves as many is better by the objective.
        bounds: what is proven, see `wrung.answers.Bounds`.
    """

    plan: Plan | None
    served_proven: bool
    objective_proven: bool
    bounds: Bounds


class Engine(Protocol):
    """Finds a best plan before the deadline; None where the problem is not for this engine."""

    def __call__(self, problem: Problem, deadline: Deadline) -> Finding | None:
        """Search until the deadline at most."""
        ...


def totals(problem: Problem, plan: Plan) -> Totals:
    """The objective values of a plan."""
    stacks = [(demand, stack) for demand, stack in enumerate(plan) if stack is not None]
    errors = [worst_case_error(problem, demand, stack) for demand, stack in stacks]
    return Totals(
        served=len(stacks),
        blocks=sum(len(stack) for _, stack in stacks),
        largest_error=max(errors, default=0),
        total_error=sum(errors),
    )
