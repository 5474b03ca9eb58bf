"""The best plan that can be found in time, and what is proven of it."""

from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import BlockChanges, Bounds
from wrung.planning.building.proofs import Proofs
from wrung.planning.deadline import Deadline
from wrung.planning.engines import Asked, EngineName, ask
from wrung.planning.finding import Finding, Plan, Totals, totals
from wrung.planning.lone.alone import Buildable, buildable_alone
from wrung.planning.parts import filled, spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.succession.least_changes import least_changes

_LEAST_SHARE: Final = 0.75
_MOST_HELD_BACK_MS: Final = 500
_LEAST_SECONDS_FOR_PROOFS: Final = 0.05
_HURRIED: Final = 1.0
"""Seconds; with more than that, there is time enough to explain after the search."""
_FOR_CHANGES: Final = 0.5
"""Share of the time left, where an explanation has to follow."""


class BestPlan(Struct, frozen=True, kw_only=True):
    """What was found.

    Attributes:
        plan: of all demands; all None where nothing was found.
        totals: its objective values.
        served_proven: no plan serves more demands.
        objective_proven: no plan that serves as many is better by the objective.
        bounds: what is proven; equal to the totals where the objective is proven.
        buildable: for each demand whether it could be built alone, where that was quickly proven.
        engine: who found it; None where no search was needed.
        changes: from stack to stack, where any stacks follow one another.
    """

    plan: Plan
    totals: Totals
    served_proven: bool
    objective_proven: bool
    bounds: Bounds
    buildable: tuple[Buildable, ...]
    engine: EngineName | None
    changes: BlockChanges | None = None


def best_plan(problem: Problem, search_by: Deadline, answer_by: Deadline) -> BestPlan:
    """The best plan; of several, one that changes few blocks from stack to stack."""
    best = _searched(problem, search_by, answer_by)
    explaining = None in best.plan
    return _settled(problem, best, search_by.share(_FOR_CHANGES) if explaining else answer_by)


def _settled(problem: Problem, best: BestPlan, deadline: Deadline) -> BestPlan:
    """With the last goal settled, as far as there is time, and nothing before it given up."""
    found = least_changes(problem, best.plan, deadline)
    if found is None:
        return best
    return replace(
        best,
        plan=found.plan,
        totals=totals(problem, found.plan),
        changes=BlockChanges(block_changes=found.changes, lower_bound=found.least),
    )


def _searched(problem: Problem, search_by: Deadline, answer_by: Deadline) -> BestPlan:
    """Search a plan; demands that are proven to be out of reach even alone are left out of it."""
    buildable = buildable_alone(problem, search_by)
    keep = [k for k, can in enumerate(buildable) if can is not False]
    part = subproblem(problem, keep)
    # What is proven without a search says early whether time must be held back to explain; where
    # there is enough of it, that is asked only if the search has not proven as much.
    hurried = search_by.remaining < _HURRIED
    most = _served_at_most(part, search_by) if hurried else len(part.demands)
    asked = _ask(part, search_by, explaining=most < len(problem.demands))
    finding = asked.finding if asked else _NOTHING_TO_BUILD
    if not (hurried or finding.served_proven):
        most = _served_at_most(part, answer_by)
    found = spread(finding.plan or (None,) * len(keep), keep, len(problem.demands))
    # What an unfinished search left out may still fit beside its plan.
    plan = found if finding.served_proven else filled(problem, found, answer_by)
    reached = totals(problem, plan)
    # Both are proven, so the tighter one holds.
    most = min(most, finding.bounds.served)
    # A plan that was filled up is not the one that was proven.
    objective_proven = finding.objective_proven and plan == found and reached.served == most
    return BestPlan(
        plan=plan,
        totals=reached,
        served_proven=reached.served == most,
        objective_proven=objective_proven,
        bounds=_proven(reached) if objective_proven else _bounds(finding, reached.served, most),
        buildable=buildable,
        engine=asked.engine if asked else None,
    )


_NOTHING_TO_BUILD: Final = Finding(
    plan=(), served_proven=True, objective_proven=True, bounds=Bounds(served=0)
)


def _served_at_most(part: Problem, deadline: Deadline) -> int:
    """What simple proofs say; demands that are needed at different times cannot conflict."""
    alone = all(len(crowd) == 1 for crowd in part.crowds)
    hurried = deadline.remaining < _LEAST_SECONDS_FOR_PROOFS
    return len(part.demands) if alone or hurried else Proofs(part).served_at_most()


def _ask(part: Problem, deadline: Deadline, *, explaining: bool) -> Asked | None:
    if not part.demands:
        return None
    return ask(part, _held_back(deadline) if explaining else deadline)


def _held_back(deadline: Deadline) -> Deadline:
    """Time for the search where a shortage will have to be explained after it."""
    left_ms = max(deadline.remaining * 1000, 1)
    return deadline.share(max(_LEAST_SHARE, 1 - _MOST_HELD_BACK_MS / left_ms))


def _proven(reached: Totals) -> Bounds:
    return Bounds(
        served=reached.served,
        total_blocks=reached.blocks,
        largest_worst_case_error=reached.largest_error,
        total_worst_case_error=reached.total_error,
    )


def _bounds(finding: Finding, served: int, most: int) -> Bounds:
    """The engine's bounds; those of the objective hold only for plans that serve as many."""
    if served < most or most < finding.bounds.served:
        return Bounds(served=most)
    return finding.bounds
