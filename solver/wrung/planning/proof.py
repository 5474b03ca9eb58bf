"""What is proven about every plan: a prefix of settled values, and a bound on the next goal."""

from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.answers import Bounds, Objective, ServedBound
from wrung.planning.problem import Problem

Goal: TypeAlias = Literal["unserved", "blocks", "largest", "total"]
"""Demands of a class without a stack, total blocks, largest and total error of the stacks."""

_GOALS: Final[dict[Objective, tuple[Goal, ...]]] = {
    "fewest_blocks": ("blocks", "largest", "total"),
    "least_error": ("largest", "total", "blocks"),
}

Values: TypeAlias = tuple[int, ...]
"""The values of a plan by the goals in order: of each, less is better, and none is below 0."""


def goals_of(problem: Problem) -> tuple[Goal, ...]:
    """In order: each counts only among plans that are equal in all the goals before it.

    First comes what is not served of each class of priority, the most urgent first.
    """
    unserved: Goal = "unserved"
    return (*(unserved for _ in problem.priorities), *_GOALS[problem.objective])


class Proof(Struct, frozen=True, kw_only=True):
    """A statement about every plan of a problem, true whichever plan it accompanies.

    Attributes:
        settled: by the goals in their order. No plan that has the values before it is better by a
            goal than its value here.
        bound: no plan that has all of these values is better by the next goal; None where nothing
            is known about it, or no goal is left.
    """

    settled: Values = ()
    bound: int | None = None

    @property
    def levels(self) -> Values:
        """What is said of each goal, as far as anything is."""
        return self.settled if self.bound is None else (*self.settled, self.bound)

    def joined(self, other: "Proof") -> "Proof":
        """What both say.

        At the first goal where they differ the tighter one holds. No plan has the other one's value
        there, so what that one says about such plans is dropped.
        """
        for one, two in zip(self.levels, other.levels, strict=False):
            if one != two:
                return self if one > two else other
        return self if len(self.levels) >= len(other.levels) else other

    def kept_by(self, values: Values) -> "Proof":
        """The part about a plan with these values: those that it keeps to, and one bound."""
        return staged(values, self.levels)

    def rules_out(self, values: Values) -> bool:
        """Whether no plan has these values by the first goals."""
        for value, level in zip(values, self.levels, strict=False):
            if value != level:
                return value < level
        return False


def proof_of(levels: Values) -> Proof:
    """The proof that says this of each of the first goals."""
    return Proof(settled=levels[:-1], bound=levels[-1])


def staged(values: Values, bounds: Sequence[int | None]) -> Proof:
    """The proof that a search in stages came to.

    Args:
        values: of its plan.
        bounds: goal by goal, no plan that has the values of this plan by the goals before it is
            better. Those after the first that the plan does not meet say nothing: better plans may
            not have its values.
    """
    for place, value in enumerate(values):
        # No value is below 0 anyway, so a bound of 0 says nothing more.
        bound = (bounds[place] if place < len(bounds) else None) or 0
        if value != bound:
            return Proof(settled=values[:place], bound=bound or None)
    return Proof(settled=values)


def most_served(proof: Proof, problem: Problem) -> tuple[int, ...]:
    """By class, no plan that serves as many of those before it serves more; all, if not known."""
    levels = (*proof.levels, *(0 for _ in problem.sizes))
    return tuple(size - level for size, level in zip(problem.sizes, levels, strict=False))


def bound_on(goal: Goal, proof: Proof, problem: Problem) -> int | None:
    """No plan that is as good by the goals before is better by this one; None if not known.

    Errors are by the measure of the problem.
    """
    place = goals_of(problem).index(goal)
    return proof.levels[place] if place < len(proof.levels) else None


def bounds_of(proof: Proof, problem: Problem) -> Bounds:
    """In the terms of an answer; a bound on another measure is none on worst-case errors."""
    usual = problem.measure.usual
    return Bounds(
        served=sum(most_served(proof, problem)),
        total_blocks=bound_on("blocks", proof, problem),
        largest_worst_case_error=bound_on("largest", proof, problem) if usual else None,
        total_worst_case_error=bound_on("total", proof, problem) if usual else None,
        by_priority=_by_priority(proof, problem),
    )


def _by_priority(proof: Proof, problem: Problem) -> tuple[ServedBound, ...]:
    """What is said of each class; nothing where no target has a priority."""
    if problem.priorities == (None,):
        return ()
    # Of a class after the first that is open nothing is known.
    most, said = most_served(proof, problem), len(proof.settled)
    return tuple(
        ServedBound(priority=priority, served=most[k] if k <= said else None)
        for k, priority in enumerate(problem.priorities)
    )
