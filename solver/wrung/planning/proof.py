"""What is proven about every plan: a prefix of settled values, and a bound on the next goal."""

from collections.abc import Sequence
from typing import Final, Literal, TypeAlias

from msgspec import Struct

from wrung.answers import Bounds, Objective

Goal: TypeAlias = Literal["served", "blocks", "largest", "total"]
"""Demands served, total blocks, the largest error of a stack, the total of these errors."""

GOALS: Final[dict[Objective, tuple[Goal, ...]]] = {
    "fewest_blocks": ("served", "blocks", "largest", "total"),
    "least_error": ("served", "largest", "total", "blocks"),
}
"""In order: each counts only among plans that are equal in all the goals before it."""

Values: TypeAlias = tuple[int, ...]
"""The values of a plan by the goals in order: more served is better; of the others, less is."""


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
    def most_served(self) -> int:
        """No plan serves more demands."""
        return _levels(self)[0]

    def joined(self, other: "Proof") -> "Proof":
        """What both say.

        At the first goal where they differ the tighter one holds. No plan has the other one's value
        there, so what that one says about such plans is dropped.
        """
        own, others = _levels(self), _levels(other)
        for place, (one, two) in enumerate(zip(own, others, strict=False)):
            if one != two:
                return self if _tighter(place, one, two) else other
        return self if len(own) >= len(others) else other

    def kept_by(self, values: Values) -> "Proof":
        """The part about a plan with these values: those that it keeps to, and one bound."""
        return staged(values, _levels(self))


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
            return Proof(settled=values[:place], bound=bound if bound or not place else None)
    return Proof(settled=values)


def rank(values: Values) -> Values:
    """What plans are compared by, the smaller the better; no values, for no plan, come last."""
    return (-values[0], *values[1:]) if values else (1,)


def bounds_of(proof: Proof, objective: Objective) -> Bounds:
    """In the terms of an answer."""
    known: dict[Goal, int] = dict(zip(GOALS[objective], _levels(proof), strict=False))
    return Bounds(
        served=proof.most_served,
        total_blocks=known.get("blocks"),
        largest_worst_case_error=known.get("largest"),
        total_worst_case_error=known.get("total"),
    )


def _levels(proof: Proof) -> Values:
    return proof.settled if proof.bound is None else (*proof.settled, proof.bound)


def _tighter(place: int, one: int, other: int) -> bool:
    return one < other if place == 0 else one > other
