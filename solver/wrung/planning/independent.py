"""Demands that are never needed at one time share nothing but the objective: solved part by part.

Stacks served, blocks and errors in sum add up over the parts, so each part can be solved by itself.
Only the largest error does not add up: it is that of the worst part, and the others may have errors
as large, if that gives them a smaller sum of errors or fewer blocks. So a part with several stacks
is solved once more together with the worst one, although they share nothing.
"""

from typing import TypeAlias

import numpy as np
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.engines import ask
from wrung.planning.finding import Finding, found_best, found_in_stages
from wrung.planning.parts import subproblem
from wrung.planning.problem import Problem
from wrung.planning.proof import Goal, Proof, goals_of, proof_of

_Parts: TypeAlias = dict[tuple[int, ...], Finding]
"""Demands never needed at the same time as any of the others, and what was found for them."""


def ask_apart(problem: Problem, deadline: Deadline) -> Finding:
    """As `ask`, part by part where there are several."""
    several = components(problem)
    # In a hurry, a plan of all of them takes less time than one of each.
    needed = len(several) * deadline.tuning.least_seconds_a_part
    if len(several) == 1 or deadline.remaining < needed:
        return ask(problem, deadline)
    parts: _Parts = {}
    left = len(problem.demands)
    for demands in several:
        # What a part leaves of its time goes to those after it.
        share = deadline.share(len(demands) / left)
        parts[demands] = ask(subproblem(problem, demands), share)
        left -= len(demands)
    return _together(problem, _beside_worst(problem, parts, deadline))


def components(problem: Problem) -> tuple[tuple[int, ...], ...]:
    """The connected components of the demands, linked where two are needed at one time."""
    found, left = list[tuple[int, ...]](), problem.at_one_time.any(axis=1)
    while left.any():
        part = problem.at_one_time[int(np.argmax(left))]
        while (wider := problem.at_one_time[part].any(axis=0)).sum() > part.sum():
            part = wider
        found.append(tuple(np.flatnonzero(part).tolist()))
        left = left & ~part
    return tuple(found)


def _beside_worst(problem: Problem, parts: _Parts, deadline: Deadline) -> _Parts:
    """The parts; those with several stacks are solved again where they may have larger errors."""
    errors = {demands: finding.totals.largest_error for demands, finding in parts.items()}
    proven = all(finding.objective_proven for finding in parts.values())
    worst = max(errors, key=lambda demands: errors[demands])
    left = [own for own, error in errors.items() if len(own) > 1 and error < errors[worst]]
    better = dict(parts)
    for turn, demands in enumerate(left):
        share = deadline.share(1 / (len(left) - turn))
        anew = _solved_beside(problem, demands, worst, share) if proven else None
        better[demands] = anew or _known_without_errors(parts[demands])
    return better


def _solved_beside(
    problem: Problem, demands: tuple[int, ...], worst: tuple[int, ...], deadline: Deadline
) -> Finding | None:
    """The best of a part whose errors may be as large as the worst one's; None if not proven."""
    both = sorted((*demands, *worst))
    asked = ask(subproblem(problem, both), deadline)
    if not asked.objective_proven:
        return None
    stacks = dict(zip(both, asked.plan or (), strict=True))
    # The worst part keeps its own best values, so what remains is the best of this part.
    own = found_best(subproblem(problem, demands), tuple(stacks[k] for k in demands))
    return replace(own, engine=asked.engine)


def _known_without_errors(finding: Finding) -> Finding:
    """What is proven for the part by itself holds only for the goals before the largest error."""
    known = finding.proof.levels[: goals_of(finding.problem).index("largest")]
    return replace(finding, proof=proof_of(known) if known else Proof())


def _together(problem: Problem, parts: _Parts) -> Finding:
    stacks: dict[int, tuple[int, ...] | None] = {}
    for demands, finding in parts.items():
        stacks |= dict(zip(demands, finding.plan or (None,) * len(demands), strict=True))
    plan = tuple(stacks[demand] for demand in range(len(problem.demands)))
    bounds = [_bound(goal, place, parts) for place, goal in enumerate(goals_of(problem))]
    engines = {finding.engine for finding in parts.values()}
    whole = found_in_stages(problem, plan, bounds)
    return replace(whole, engine="direct" if "direct" in engines else "candidates")


def _bound(goal: Goal, place: int, parts: _Parts) -> int:
    """No plan that equals the parts in all earlier goals is better by this one."""
    levels = [finding.proof.levels for finding in parts.values()]
    # No value is below 0.
    bounds = [known[place] if place < len(known) else 0 for known in levels]
    return max(bounds) if goal == "largest" else sum(bounds)
