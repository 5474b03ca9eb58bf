"""The best plan that can be found in time, and what is proven about it."""

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import BlockChanges
from wrung.deadline import Deadline
from wrung.planning.building.proofs import Proofs
from wrung.planning.engines import Asked, EngineName
from wrung.planning.finding import Finding, Plan, Totals, found, totals, unserved
from wrung.planning.independent import ask_apart
from wrung.planning.lone.alone import Buildable, buildable_alone
from wrung.planning.parts import filled, spread, subproblem
from wrung.planning.problem import Problem
from wrung.planning.proof import Proof, proof_of
from wrung.planning.succession.least_changes import least_changes


class BestPlan(Struct, frozen=True, kw_only=True):
    """What was found.

    Attributes:
        finding: a plan of all demands, all None where nothing was found, and what is proven.
        plan: that plan.
        totals: the objective values of the plan.
        buildable: for each demand whether it can be built alone, where that was quickly proven.
        engine: which engine found it; None where no search was needed.
        changes: from stack to stack, where any stacks follow one another.
    """

    finding: Finding
    plan: Plan
    totals: Totals
    buildable: tuple[Buildable, ...]
    engine: EngineName | None
    changes: BlockChanges | None = None


def best_plan(problem: Problem, search_by: Deadline, answer_by: Deadline) -> BestPlan:
    """The best plan; of several, one that changes few blocks from stack to stack."""
    best = _searched(problem, search_by, answer_by)
    # An explanation has to follow, if not all are served.
    until = answer_by
    if None in best.plan:
        until = search_by.share(search_by.tuning.share_for_changes)
    return _settled(problem, best, until)


def _settled(problem: Problem, best: BestPlan, deadline: Deadline) -> BestPlan:
    """With the last goal settled as far as time allows, without giving up any goal before it."""
    changing = least_changes(problem, best.plan, deadline, best=best.finding.objective_proven)
    if changing is None:
        return best
    return replace(
        best,
        finding=found(problem, changing.plan, best.finding.proof),
        plan=changing.plan,
        totals=totals(problem, changing.plan),
        changes=BlockChanges(block_changes=changing.changes, lower_bound=changing.least),
    )


def _searched(problem: Problem, search_by: Deadline, answer_by: Deadline) -> BestPlan:
    """Search for a plan; demands that are proven unbuildable even alone are left out."""
    buildable = buildable_alone(problem, search_by)
    keep = [k for k, can in enumerate(buildable) if can is not False]
    part = subproblem(problem, keep)
    # What is proven without a search tells early whether time must be kept for an explanation. With
    # plenty of time, it is only needed if the search has not proven as much.
    hurried = search_by.remaining < search_by.tuning.hurried_seconds
    most = _served_at_most(part, search_by) if hurried else part.sizes
    asked = _ask(part, search_by, explaining=sum(most) < len(problem.demands))
    finding = asked.finding if asked else found(part, (), Proof())
    if not (hurried or finding.served_proven):
        most = _served_at_most(part, answer_by)
    plan = spread(finding.plan or (None,) * len(keep), keep, len(problem.demands))
    # What an unfinished search left out may still fit beside its plan.
    plan = plan if finding.served_proven else filled(problem, plan, answer_by)
    # A proof is about every plan, so it also holds beside a plan that was filled up.
    proof = finding.proof.joined(proof_of(unserved(part, most)))
    out = tuple(all_of - kept for all_of, kept in zip(problem.sizes, part.sizes, strict=True))
    proof = proof.raised(out)
    return BestPlan(
        finding=found(problem, plan, proof),
        plan=plan,
        totals=totals(problem, plan),
        buildable=buildable,
        engine=asked.engine if asked else None,
    )


def _served_at_most(part: Problem, deadline: Deadline) -> tuple[int, ...]:
    """What simple proofs say; demands that are needed at different times cannot conflict."""
    alone = all(len(clique) == 1 for clique in part.cliques)
    if alone or deadline.remaining < deadline.tuning.least_seconds_for_proofs:
        return part.sizes
    return Proofs(part, deadline.tuning).served_at_most(part.sizes)


def _ask(part: Problem, deadline: Deadline, *, explaining: bool) -> Asked | None:
    if not part.demands:
        return None
    return ask_apart(
        part, deadline.keeping(deadline.tuning.most_held_back_ms) if explaining else deadline
    )
