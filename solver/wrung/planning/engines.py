"""The engines, in the order in which they are asked."""

from typing import Final, Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import Bounds
from wrung.planning import direct, engine
from wrung.planning.building.first_plan import first_plan
from wrung.planning.deadline import Deadline
from wrung.planning.finding import Engine, Finding, Plan, totals
from wrung.planning.problem import Problem

EngineName: TypeAlias = Literal["candidates", "direct"]


class Asked(Struct, frozen=True, kw_only=True):
    """A finding, and the engine that made it."""

    engine: EngineName
    finding: Finding


ENGINES: Final[tuple[tuple[EngineName, Engine], ...]] = (
    ("candidates", engine.search),
    ("direct", direct.search),
)


_SHARE: Final = 0.95
"""Of the time, for an engine that has another after it."""


_HURRIED: Final = 1.0
"""Seconds; with less than that, engines may end with nothing, so that a first plan is made before.
What is proven in time does not depend on it."""
_FOR_A_FIRST_PLAN: Final = 0.4
"""Of the time; mostly a few milliseconds."""


def ask(problem: Problem, deadline: Deadline) -> Asked:
    """The finding of the first engine that proves one, else the best one before the deadline."""
    best = _first(problem, deadline)
    for name, search in ENGINES:
        if deadline.passed or (best is not None and best.finding.objective_proven):
            break
        last = name == ENGINES[-1][0]
        finding = search(problem, deadline if last else deadline.share(_SHARE))
        if finding is not None:
            best = _better(problem, best, Asked(engine=name, finding=finding))
    return best or Asked(engine="direct", finding=_nothing(problem))


def _first(problem: Problem, deadline: Deadline) -> Asked | None:
    """A plan to fall back on; none where engines will have time enough to make it themselves."""
    # A stack alone is found as soon by the engine.
    if deadline.remaining > _HURRIED or len(problem.demands) == 1:
        return None
    plan = first_plan(problem, deadline.share(_FOR_A_FIRST_PLAN))
    if not any(plan):
        return None
    return Asked(engine="direct", finding=replace(_nothing(problem), plan=plan))


def rank(problem: Problem, plan: Plan | None) -> tuple[int, ...]:
    """What plans are compared by, the smaller the better; no plan comes last."""
    if plan is None:
        return (1,)
    of = totals(problem, plan)
    errors = (of.largest_error, of.total_error)
    fewest = problem.objective == "fewest_blocks"
    return (-of.served, *((of.blocks, *errors) if fewest else (*errors, of.blocks)))


def _better(problem: Problem, one: Asked | None, other: Asked) -> Asked:
    """The better plan of the two, with the tighter bounds."""
    if one is None or other.finding.objective_proven:
        return other
    better = min(one, other, key=lambda asked: rank(problem, asked.finding.plan))
    bounds = min(one, other, key=lambda asked: _looseness(problem, asked.finding)).finding.bounds
    plan = better.finding.plan
    # The plan of one may meet the bound of the other, which proves it.
    served_proven = plan is not None and len(plan) - plan.count(None) == bounds.served
    return Asked(
        engine=better.engine,
        finding=replace(better.finding, bounds=bounds, served_proven=served_proven),
    )


def _looseness(problem: Problem, finding: Finding) -> tuple[int, ...]:
    """What bounds are compared by, the smaller the tighter, in the order of the objective."""
    bounds = finding.bounds
    errors = (bounds.largest_worst_case_error, bounds.total_worst_case_error)
    fewest = problem.objective == "fewest_blocks"
    # The higher a bound from below, the tighter it is; 0 says nothing.
    goals = (bounds.total_blocks, *errors) if fewest else (*errors, bounds.total_blocks)
    return (bounds.served, *(0 if goal is None else -goal for goal in goals))


def _nothing(problem: Problem) -> Finding:
    return Finding(
        plan=None,
        served_proven=False,
        objective_proven=False,
        bounds=Bounds(served=len(problem.demands)),
    )
