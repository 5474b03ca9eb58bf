"""A ranking by finding the best stack again and again, each time excluding those known."""

from collections.abc import Sequence

from wrung.deadline import Deadline
from wrung.planning import direct
from wrung.planning.blockwise.rules import unlike
from wrung.planning.finding import Finding
from wrung.planning.problem import Problem
from wrung.planning.ranking.ranked import Ranked, Ranking


def rank(problem: Problem, wanted: int, deadline: Deadline) -> Ranking:
    """The best stacks of the only demand."""
    stacks: list[Ranked] = []
    found: Finding | None = None
    while len(stacks) < wanted and deadline.remaining > deadline.tuning.least_seconds_for_next:
        found = _next(problem, stacks, deadline)
        stack = found.plan[0] if found.plan else None
        if stack is not None:
            stacks.append(Ranked(stack=stack, proven=found.objective_proven))
        if stack is None or not found.objective_proven:
            break
    return Ranking(stacks=tuple(stacks), complete=found is not None and _exhausted(found))


def _next(problem: Problem, known: Sequence[Ranked], deadline: Deadline) -> Finding:
    without = unlike(0, [each.stack for each in known])
    return direct.search(
        problem, deadline.share(deadline.tuning.share_for_next), further=(without,)
    )


def _exhausted(found: Finding) -> bool:
    return found.served_proven and found.most_served == 0
