"""From a plan of pieces to the answer that the caller reads."""

from collections.abc import Sequence

from wrung.answers import Answer, Diagnostics, Outcome, Shortage, Stack, Unmet
from wrung.planning.best_plan import BestPlan
from wrung.planning.nearest import placed
from wrung.planning.problem import Problem, worst_case_error


def answer(
    problem: Problem,
    best: BestPlan,
    unserved: tuple[Unmet, ...],
    short: Shortage | None,
    *,
    solve_ms: float,
) -> Answer:
    """The answer; its outcome follows from what the plan serves and what is proven."""
    outcome = _outcome(best)
    return Answer(
        outcome=outcome,
        proven=best.served_proven if outcome == "partial" else outcome in _PROVEN,
        objective_proven=best.objective_proven,
        objective=problem.objective,
        total_blocks=best.totals.blocks,
        largest_worst_case_error=best.totals.largest_error,
        total_worst_case_error=best.totals.total_error,
        bounds=best.bounds,
        stacks=tuple(
            _stack(problem, demand, stack)
            for demand, stack in enumerate(best.plan)
            if stack is not None
        ),
        unmet=unserved,
        shortage=short,
        solve_ms=solve_ms,
        diagnostics=Diagnostics(engine=best.engine),
    )


_PROVEN: frozenset[Outcome] = frozenset(("optimal", "infeasible"))


def _outcome(best: BestPlan) -> Outcome:
    if best.totals.served == len(best.plan):
        return "optimal" if best.objective_proven else "feasible"
    if best.totals.served:
        return "partial"
    return "infeasible" if best.served_proven else "unknown"


def _stack(problem: Problem, demand: int, stack: Sequence[int]) -> Stack:
    requirement = problem.demands[demand].requirement
    pieces = [problem.pieces[index] for index in stack]
    return Stack(
        ref=requirement.ref,
        length=requirement.length,
        nominal=sum(piece.nominal for piece in pieces),
        joints=len(pieces) - 1,
        blocks=placed(problem, stack),
        deviation=sum(piece.deviation for piece in pieces),
        worst_case_error=worst_case_error(problem, demand, stack),
    )
