"""The preferences: what is said of them, and that no bound exceeds it."""

from collections.abc import Iterator

from wrung.checker.case import Breach, Case, claim
from wrung.checker.preferences import preference_values


def values(case: Case) -> Iterator[Breach]:
    """Of each preference, in the order asked for, what the stacks come to."""
    asked = [(each.goal, each.set) for each in case.preferences]
    said = case.answer.preferences
    if [(each.goal, each.set) for each in said] != asked:
        detail = "they are not those asked for, in their order"
        yield Breach(rule="preferences", detail=detail)
        return
    for each, value in zip(said, preference_values(case), strict=True):
        if each.value != value:
            detail = f"the stacks come to {value} by {each.goal}, not {each.value}"
            yield Breach(rule="preferences", detail=detail)


def bounds(case: Case) -> Iterator[Breach]:
    """No plan is said to need more than this one has."""
    for each in case.answer.preferences:
        if not 0 <= each.lower_bound <= each.value:
            detail = f"{each.lower_bound} cannot be a bound of {each.value} by {each.goal}"
            yield claim(rule="preference bounds", detail=detail)
