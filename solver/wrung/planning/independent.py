"""Demands that are never needed at one time share nothing but the objective: solved part by part.

Stacks served, blocks and errors in sum add up over the parts, so each part can be solved by itself.
Only the largest error does not add up: it is that of the worst part, and the others may have errors
as large, if that gives them a smaller sum of errors or fewer blocks. So a part with several stacks
is solved once more together with the worst one, although they share nothing.
"""

from collections.abc import Sequence

from msgspec import Struct

from wrung.deadline import Deadline
from wrung.planning.engines import Asked, EngineName, ask
from wrung.planning.finding import Finding, Plan, found, totals
from wrung.planning.parts import subproblem
from wrung.planning.problem import Problem
from wrung.planning.proof import Goal, Proof, goals_of, proof_of, staged


class _Part(Struct, frozen=True, kw_only=True):
    """Demands never needed at the same time as any of the others, and what was found for them."""

    demands: tuple[int, ...]
    asked: Asked

    @property
    def finding(self) -> Finding:
        return self.asked.finding


def ask_apart(problem: Problem, deadline: Deadline) -> Asked:
    """As `ask`, part by part where there are several."""
    parts = components(problem)
    if len(parts) == 1:
        return ask(problem, deadline)
    asked: list[_Part] = []
    left = len(problem.demands)
    for demands in parts:
        # What a part leaves of its time goes to those after it.
        share = deadline.share(len(demands) / left)
        asked.append(_Part(demands=demands, asked=ask(subproblem(problem, demands), share)))
        left -= len(demands)
    return _together(problem, [*_beside_worst(problem, asked, deadline)])


def components(problem: Problem) -> tuple[tuple[int, ...], ...]:
    """The connected components of the demands, linked where two are needed at one time."""
    part = list(range(len(problem.demands)))
    for clique in problem.cliques:
        joined = {part[demand] for demand in clique}
        part = [min(joined) if own in joined else own for own in part]
    return tuple(
        tuple(demand for demand, own in enumerate(part) if own == first)
        for first in sorted(set(part))
    )


def _beside_worst(problem: Problem, parts: Sequence[_Part], deadline: Deadline) -> Sequence[_Part]:
    """The parts; those with several stacks are solved again where they may have larger errors."""
    errors = [_largest(problem, part) for part in parts]
    proven = all(part.finding.objective_proven for part in parts)
    worst = parts[errors.index(max(errors))]
    left = [
        place
        for place, part in enumerate(parts)
        if len(part.demands) > 1 and errors[place] < max(errors)
    ]
    better = list(parts)
    for turn, place in enumerate(left):
        share = deadline.share(1 / (len(left) - turn))
        anew = _solved_beside(problem, parts[place], worst, share) if proven else None
        better[place] = anew or _known_without_errors(problem, parts[place])
    return better


def _largest(problem: Problem, part: _Part) -> int:
    own = subproblem(problem, part.demands)
    return totals(own, part.finding.plan or ()).largest_error


def _solved_beside(problem: Problem, part: _Part, worst: _Part, deadline: Deadline) -> _Part | None:
    """The best of a part whose errors may be as large as the worst one's; None if not proven."""
    both = sorted((*part.demands, *worst.demands))
    asked = ask(subproblem(problem, both), deadline)
    own = subproblem(problem, part.demands)
    stacks = dict(zip(both, asked.finding.plan or (None,) * len(both), strict=True))
    plan = tuple(stacks[demand] for demand in part.demands)
    if not asked.finding.objective_proven:
        return None
    # The worst part keeps its own best values, so what remains is the best of this part.
    finding = found(own, plan, Proof(settled=found(own, plan, Proof()).values))
    return _Part(demands=part.demands, asked=Asked(engine=asked.engine, finding=finding))


def _known_without_errors(problem: Problem, part: _Part) -> _Part:
    """What is proven for the part by itself holds only for the goals before the largest error."""
    known = part.finding.proof.levels[: goals_of(problem).index("largest")]
    proof = proof_of(known) if known else Proof()
    finding = found(subproblem(problem, part.demands), _plan(part), proof)
    return _Part(demands=part.demands, asked=Asked(engine=part.asked.engine, finding=finding))


def _together(problem: Problem, parts: Sequence[_Part]) -> Asked:
    plan: list[tuple[int, ...] | None] = [None] * len(problem.demands)
    for part in parts:
        for demand, stack in zip(part.demands, _plan(part), strict=True):
            plan[demand] = stack
    whole = found(problem, tuple(plan), Proof())
    goals = goals_of(problem)
    bounds = [_bound(goal, place, parts) for place, goal in enumerate(goals)]
    engines: set[EngineName] = {part.asked.engine for part in parts}
    return Asked(
        engine="direct" if "direct" in engines else "candidates",
        finding=found(problem, tuple(plan), staged(whole.values, bounds)),
    )


def _plan(part: _Part) -> Plan:
    return part.finding.plan or (None,) * len(part.demands)


def _bound(goal: Goal, place: int, parts: Sequence[_Part]) -> int:
    """No plan that equals the parts in all earlier goals is better by this one."""
    levels = [part.finding.proof.levels for part in parts]
    # No value is below 0.
    bounds = [known[place] if place < len(known) else 0 for known in levels]
    return max(bounds) if goal == "largest" else sum(bounds)
