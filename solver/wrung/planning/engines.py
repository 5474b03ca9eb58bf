"""The engines, in the order in which they are asked."""

from typing import Final

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning import direct, engine
from wrung.planning.assignment import hand_out
from wrung.planning.building.stacking import first_plan
from wrung.planning.finding import (
    IMPOSSIBLE,
    UNDECIDED,
    Engine,
    EngineName,
    Finding,
    Plan,
    Result,
    found,
    nothing_found,
)
from wrung.planning.lone import build
from wrung.planning.objectives.serving import bench_for_serving, serve_soon
from wrung.planning.problem import Problem
from wrung.planning.proof import Proof

ENGINES: Final[tuple[tuple[EngineName, Engine], ...]] = (
    ("candidates", engine.search),
    ("direct", direct.search),
)


def ask(problem: Problem, deadline: Deadline) -> Finding:
    """The best that the engines find, or a plan put together quickly.

    Each engine is asked where the one before it leaves open how many can be served.
    """
    hurried = _hurried(problem, deadline)
    share = deadline.share(deadline.tuning.share_for_first_plan)
    best = _first(problem, share) if hurried else nothing_found(problem)
    for name, search in ENGINES:
        if deadline.passed:
            break
        last = name == ENGINES[-1][0]
        until = deadline if last else deadline.share(deadline.tuning.share_of_first_engine)
        if (finding := search(problem, until)) is not None:
            best = _joined(best, replace(finding, engine=name))
            if best.served_proven:
                break
            # What an engine came to before its time ended may serve fewer.
            best = _joined(best, _first(problem, deadline, best.plan))
            # With a proof, the next engine may only add to it, which takes time. A plan of some
            # lengths alone proves nothing of the others.
            if finding.proof.levels and _hurried(problem, deadline):
                break
    if (late := _late(best, deadline, hurried=hurried)) is not None:
        best = _joined(best, _first(problem, late))
    return replace(best, engine=best.engine or "direct")


def serve_all(problem: Problem, deadline: Deadline) -> Result:
    """Whether one plan serves all demands, and one that does."""
    if deadline.passed:
        return UNDECIDED
    # Of several lengths, or of an error, sums of lengths do not show it.
    if len(problem.demands) == 1 and not problem.limits_errors:
        return build(problem, 0, range(len(problem.pieces)), deadline)
    if (soon := _served_soon(problem, deadline)) is not None:
        return soon
    finding = ask(problem, deadline.share(deadline.tuning.share_for_a_question))
    if finding.plan is not None and None not in finding.plan:
        return Result(verdict="found", plan=finding.plan)
    # A bound is a proof even if the time ended the search.
    return IMPOSSIBLE if finding.most_served < len(problem.demands) else UNDECIDED


def _served_soon(problem: Problem, deadline: Deadline) -> Result | None:
    """The same of several demands, with less effort; None if there are no tables for it.

    Which plan is best does not matter here, and takes much longer to find.
    """
    wanted = len(problem.demands)
    if wanted == 1 or problem.signed or len(problem.priorities) > 1:
        return None
    bench = bench_for_serving(problem, deadline)
    if bench is None:
        return None
    soon = serve_soon(bench, wanted, wanted - 1, deadline)
    if len(soon.chosen) == wanted:
        return Result(verdict="found", plan=hand_out(bench, soon.chosen))
    return IMPOSSIBLE if soon.most < wanted else UNDECIDED


def _hurried(problem: Problem, deadline: Deadline) -> bool:
    """Whether an engine may end with nothing, for want of time."""
    # The engine finds a single stack just as quickly.
    if len(problem.demands) == 1 or deadline.cancel.cancelled:
        return False
    tuning, pairs = deadline.tuning, len(problem.pieces) * len(problem.demands)
    return deadline.remaining <= max(tuning.hurried_seconds, pairs / tuning.pairs_a_hurried_second)


def _late(best: Finding, deadline: Deadline, *, hurried: bool) -> Deadline | None:
    """The time for a plan after the end, where nobody knew that time would be short."""
    if deadline.cancel.cancelled:
        # Whoever cancels still wants a plan.
        return None if hurried else Deadline(deadline.tuning.after_cancel_ms)
    if deadline.passed and not any(best.plan or ()):
        # A machine that stood still for the whole limit must not make a simple stack unknown.
        return deadline.late()
    return None


def _first(problem: Problem, deadline: Deadline, begun: Plan | None = None) -> Finding:
    """A plan to fall back on, if one is found by then."""
    plan = first_plan(problem, deadline, begun)
    if not any(plan):
        return nothing_found(problem)
    return found(problem, plan, Proof(), engine="direct")


def _joined(one: Finding, other: Finding) -> Finding:
    """The better plan of the two, with what both have proven."""
    if other.objective_proven:
        return other
    better = min(one, other, key=lambda finding: (finding.plan is None, finding.values))
    # The plan of one may meet the bound of the other, which proves it.
    proof = one.proof.joined(other.proof)
    return replace(better, proof=proof, engine=better.engine or other.engine)
