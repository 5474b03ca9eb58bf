"""What an engine hands back: which pieces serve which demand, and what is proven of it."""

from collections.abc import Callable, Sequence
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.answers import Bounds
from wrung.deadline import Deadline
from wrung.planning.problem import Problem, error_of
from wrung.planning.proof import Goal, Proof, Values, bounds_of, goals_of, most_served, staged
from wrung.planning.solvers import Verdict

Plan: TypeAlias = tuple[tuple[int, ...] | None, ...]
"""Per demand the ascending indexes of its pieces, or None where it is not served."""


EngineName: TypeAlias = Literal["candidates", "direct"]


class Totals(Struct, frozen=True, kw_only=True, order=True):
    """The objective values of a plan: served of each class, errors in quanta."""

    served: tuple[int, ...]
    blocks: int
    largest_error: int
    total_error: int


class Finding(Struct, frozen=True, kw_only=True):
    """A plan, and what is proven of every plan. Make it with `found`.

    Attributes:
        problem: whose plan it is.
        plan: the best one found; None if the time ended before any was known.
        values: of the plan, by the goals in their order; empty without a plan.
        proof: says nothing of this plan in particular, see `claimed`.
        engine: which one found the plan; None where no search was needed, or none says so.
    """

    problem: Problem
    plan: Plan | None
    values: Values
    proof: Proof
    engine: EngineName | None = None

    @property
    def totals(self) -> Totals:
        """The objective values of the plan; of no stacks without one."""
        return totals(self.problem, self.plan or ())

    @property
    def claimed(self) -> Proof:
        """The part of the proof that concerns the plan."""
        return self.proof if self.plan is None else self.proof.kept_by(self.values)

    @property
    def served_proven(self) -> bool:
        """Whether no plan serves more: of any class, and not fewer of a more urgent one."""
        settled = len(self.claimed.settled)
        return self.plan is not None and settled >= len(self.problem.priorities)

    @property
    def objective_proven(self) -> bool:
        """Whether no plan serves more, and none that serves as many is better by the objective."""
        return self.plan is not None and self.claimed.settled == self.values

    @property
    def bounds(self) -> Bounds:
        """What the plan may claim, in the terms of an answer."""
        return bounds_of(self.claimed, self.problem)

    @property
    def most_served(self) -> int:
        """No plan serves more that is as good by the goals before the first that is open."""
        return sum(most_served(self.proof, self.problem))


class Result(Struct, frozen=True, kw_only=True):
    """How a search for any plan ended: the plan found, and a bound on what it was to make least.

    Each is None where unknown; no plan has a smaller value than the bound.
    """

    verdict: Verdict = "unknown"
    plan: Plan | None = None
    bound: int | None = None

    @property
    def stack(self) -> tuple[int, ...] | None:
        """The plan of a single demand."""
        return self.plan[0] if self.plan else None


UNDECIDED: Final = Result()
IMPOSSIBLE: Final = Result(verdict="impossible")

Engine: TypeAlias = Callable[[Problem, Deadline], Finding | None]
"""Finds a best plan before the deadline; None where the problem is not for this engine."""


def found(
    problem: Problem, plan: Plan | None, proof: Proof, engine: EngineName | None = None
) -> Finding:
    """A plan of the problem beside a proof about it."""
    values = () if plan is None else values_of(problem, plan)
    return Finding(problem=problem, plan=plan, values=values, proof=proof, engine=engine)


def found_in_stages(problem: Problem, plan: Plan, bounds: Sequence[int | None]) -> Finding:
    """A plan that a search came to goal by goal, with what it has proven of each, see `staged`."""
    values = values_of(problem, plan)
    return Finding(problem=problem, plan=plan, values=values, proof=staged(values, bounds))


def found_best(problem: Problem, plan: Plan) -> Finding:
    """A plan than which none is better by any goal."""
    values = values_of(problem, plan)
    return Finding(problem=problem, plan=plan, values=values, proof=Proof(settled=values))


def nothing_found(problem: Problem) -> Finding:
    """No plan, and nothing proven."""
    return found(problem, None, Proof())


def totals(problem: Problem, plan: Plan) -> Totals:
    """The objective values of a plan."""
    stacks = [(demand, stack) for demand, stack in enumerate(plan) if stack is not None]
    served = [0] * len(problem.priorities)
    for demand, _ in stacks:
        served[problem.demands[demand].priority_class] += 1
    errors = [error_of(problem, demand, stack) for demand, stack in stacks]
    return Totals(
        served=tuple(served),
        blocks=sum(len(stack) for _, stack in stacks),
        largest_error=max(errors, default=0),
        total_error=sum(errors),
    )


def values_of(problem: Problem, plan: Plan) -> Values:
    """The same values by the goals of the problem, in order."""
    of = totals(problem, plan)
    by: dict[Goal, int] = {
        "blocks": of.blocks,
        "largest": of.largest_error,
        "total": of.total_error,
    }
    missing = unserved(problem, of.served)
    return (*missing, *(by[goal] for goal in goals_of(problem)[len(missing) :]))


def unserved(problem: Problem, served: tuple[int, ...]) -> Values:
    """What is not served of each class where so many are."""
    return tuple(size - count for size, count in zip(problem.sizes, served, strict=True))
