"""From a plan of pieces to the answer that the caller reads, and back."""

from collections.abc import Sequence

from msgspec import Struct
from msgspec.structs import replace

from wrung.answers import (
    Answer,
    BlockChanges,
    CasePlan,
    Compared,
    Diagnostics,
    Outcome,
    PlacedBlock,
    Shortage,
    Stack,
    Unmet,
)
from wrung.blocks import margin
from wrung.errors import Fault, InputError
from wrung.handwork.order import wringing_order
from wrung.planning.finding import Finding, Plan, Totals
from wrung.planning.problem import Problem
from wrung.planning.proof import Proof, bound_on
from wrung.planning.solvers import Verdict
from wrung.preferences import PreferenceResult


class BestPlan(Struct, frozen=True, kw_only=True):
    """What was found.

    Attributes:
        finding: a plan of all demands, all None where nothing was found, and what is proven.
        buildable: for each demand whether it can be built alone, where that was quickly proven;
            empty where all are served.
        changes: from stack to stack, where any stacks follow one another.
        preferences: one for each of the problem.
    """

    finding: Finding
    buildable: tuple[Verdict, ...]
    changes: BlockChanges | None = None
    preferences: tuple[PreferenceResult, ...] = ()

    @property
    def plan(self) -> Plan:
        """The plan of the finding."""
        return self.finding.plan or ()


def answer(
    problem: Problem,
    best: BestPlan,
    unserved: tuple[Unmet, ...],
    short: Shortage | None,
    *,
    solve_ms: float,
) -> Answer:
    """The answer; its outcome follows from what the plan serves and what is proven.

    Worst-case errors are as the contract defines them, whatever measure was used to find the plan.
    """
    finding, settled = best.finding, best.finding.served_proven
    outcome = _outcome(best.plan, settled=settled, proven=finding.objective_proven)
    stacks = built_stacks(problem, best.plan)
    errors = [stack.worst_case_error for stack in stacks]
    return Answer(
        outcome=outcome,
        proven=settled and outcome != "feasible",
        objective_proven=finding.objective_proven,
        objective=problem.objective,
        total_blocks=finding.totals.blocks,
        largest_worst_case_error=max(errors, default=0),
        total_worst_case_error=sum(errors),
        bounds=finding.bounds,
        stacks=stacks,
        unmet=unserved,
        shortage=short,
        compared_errors=compared_figures(problem, finding.totals, finding.claimed),
        changes=best.changes,
        preferences=best.preferences,
        solve_ms=solve_ms,
        diagnostics=Diagnostics(engine=finding.engine),
    )


def with_cases(lengths: Answer, cases: tuple[CasePlan, ...], solve_ms: float) -> Answer:
    """The plan for lengths and those for angle blocks as one answer, with an outcome for all."""
    if not cases:
        return lengths
    plans = (lengths, *(each.plan for each in cases))
    # A feasible plan serves every demand, so it is settled which are served.
    settled = all(plan.proven or plan.outcome == "feasible" for plan in plans)
    proven = all(plan.objective_proven for plan in plans)
    told = [each for plan in plans for each in (*plan.stacks, *(None for _ in plan.unmet))]
    outcome = _outcome(told, settled=settled, proven=proven)
    return replace(
        lengths,
        outcome=outcome,
        proven=settled and outcome != "feasible",
        objective_proven=proven,
        cases=cases,
        solve_ms=solve_ms,
    )


def _outcome(stacks: Sequence[object], *, settled: bool, proven: bool) -> Outcome:
    """What is said of stacks, None for each that is missing.

    ``settled`` says that no plan serves more, ``proven`` that no such plan is better, either.
    """
    if None not in stacks:
        return "optimal" if proven else "feasible"
    if any(stacks):
        return "partial"
    return "infeasible" if settled else "unknown"


def compared_figures(problem: Problem, reached: Totals, proof: Proof) -> Compared | None:
    """The figures of the measure that plans are compared by, where that is not the usual one.

    The proof is about all plans.
    """
    measure = problem.measure
    if measure.usual:
        return None
    return Compared(
        kind=measure.kind,
        corrected=measure.corrected,
        unequal_limits=measure.unequal_limits,
        largest=reached.largest_error,
        total=reached.total_error,
        largest_bound=bound_on("largest", proof, problem),
        total_bound=bound_on("total", proof, problem),
    )


def built_stacks(problem: Problem, plan: Plan) -> tuple[Stack, ...]:
    """The stacks of a plan, in the order asked for."""
    return tuple(
        built_stack(problem, demand, stack)
        for demand, stack in enumerate(plan)
        if stack is not None
    )


def built_stack(problem: Problem, demand: int, stack: Sequence[int]) -> Stack:
    """The stack of those pieces, in wringing order, with the figures that the contract asks for."""
    requirement = problem.demands[demand].requirement
    blocks = [problem.pieces[index].block for index in stack]
    nominal = sum(problem.pieces[index].nominal for index in stack)
    deviation = sum(block.deviation or 0 for block in blocks)
    joints = len(blocks) - 1
    margins = sum(map(margin, blocks))
    return Stack(
        target=requirement.target,
        role=requirement.role,
        length=requirement.length,
        nominal=nominal,
        joints=joints,
        blocks=placed(problem, stack),
        deviation=deviation,
        worst_case_error=abs(nominal + deviation - requirement.length)
        + margins
        + joints * problem.joint_allowance,
    )


def placed(problem: Problem, stack: Sequence[int]) -> tuple[PlacedBlock, ...]:
    """The blocks of a stack in wringing order."""
    pieces = [problem.pieces[index] for index in stack]
    return wringing_order(
        PlacedBlock(
            id=piece.block.id,
            nominal=piece.nominal,
            role=piece.block.role,
            unit=piece.block.unit,
            body=piece.block.body,
        )
        for piece in pieces
    )


def plan_of(problem: Problem, answer: Answer) -> Plan:
    """The answer's stacks as a plan of the problem."""
    place = {piece.block.id: index for index, piece in enumerate(problem.pieces)}
    used = {block.id for stack in answer.stacks for block in stack.blocks}
    if unknown := sorted(used - place.keys()):
        detail = f"uses {unknown[0]!r}, which is not among the blocks: that of another request?"
        raise InputError([Fault(pointer="/answer", detail=detail)])
    stacks = {
        # An answer has its blocks in wringing order, a plan in ascending order.
        stack.name: tuple(sorted(place[block.id] for block in stack.blocks))
        for stack in answer.stacks
    }
    return tuple(stacks.get(demand.requirement.name) for demand in problem.demands)
