"""What is left of an answer where only its stacks can be relied on."""

from collections.abc import Sequence

from msgspec.structs import replace

from wrung.answers import Answer, Bounds, Outcome, Unmet
from wrung.checked_types import typed
from wrung.choices import Alternatives, TradeOff


@typed
def without_claims(answer: Answer) -> Answer:
    """The same stacks and their figures, with nothing said to be proven.

    Bounds say no more than how many targets there are; of targets without a stack nothing is said
    to be decided, and nothing is advised.
    """
    cases = tuple(replace(each, plan=without_claims(each.plan)) for each in answer.cases)
    compared, changes = answer.compared_errors, answer.changes
    return replace(
        answer,
        outcome=_outcome([answer, *(each.plan for each in cases)]),
        proven=False,
        objective_proven=False,
        bounds=Bounds(
            served=len(answer.stacks) + len(answer.unmet),
            by_priority=tuple(replace(each, served=None) for each in answer.bounds.by_priority),
        ),
        unmet=tuple(
            Unmet(target=each.target, role=each.role, reason="not_decided") for each in answer.unmet
        ),
        shortage=None,
        compared_errors=compared and replace(compared, largest_bound=None, total_bound=None),
        changes=changes and replace(changes, lower_bound=0),
        preferences=tuple(replace(each, lower_bound=0) for each in answer.preferences),
        cases=cases,
    )


def alternatives_without_claims(found: Alternatives) -> Alternatives:
    """The same stacks, with no rank proven."""
    stacks = tuple(replace(each, proven=False) for each in found.stacks)
    return replace(found, stacks=stacks, complete=False)


def trade_off_without_claims(found: TradeOff) -> TradeOff:
    """The same points, none of them proven."""
    points = tuple(replace(each, proven=False) for each in found.points)
    return replace(found, points=points, complete=False)


def _outcome(plans: Sequence[Answer]) -> Outcome:
    if not any(plan.unmet for plan in plans):
        return "feasible"
    return "partial" if any(plan.stacks for plan in plans) else "unknown"
