"""What is asked for: checking it, and the problem that belongs to an answer, with its plan."""

from collections.abc import Sequence
from typing import get_args

from wrung.answers import Answer, Objective
from wrung.blocks import Block
from wrung.errors import Fault, InputError
from wrung.joints import DEFAULT_JOINT_ALLOWANCE
from wrung.metrology.error_measure import WORST_CASE
from wrung.options import Options
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem, build_problem
from wrung.targets import Target


def check_asked(objective: Objective, time_limit_ms: float, memory_limit_mb: float) -> None:
    """Check what nothing else would notice in time.

    Raises:
        InputError: there is no such objective, no time, or no memory.
    """
    faults: list[Fault] = []
    if objective not in get_args(Objective):
        detail = f"must be one of {', '.join(get_args(Objective))}"
        faults.append(Fault(pointer="/objective", detail=detail))
    if not time_limit_ms > 0:
        faults.append(Fault(pointer="/time_limit_ms", detail="must be greater than zero"))
    if not memory_limit_mb > 0:
        faults.append(Fault(pointer="/memory_limit_mb", detail="must be greater than zero"))
    if faults:
        raise InputError(faults)


def objective_of(options: Options) -> Objective:
    """The objective asked for."""
    return options.get("objective", "fewest_blocks")


def problem_of(blocks: Sequence[Block], targets: Sequence[Target], options: Options) -> Problem:
    """The problem that `wrung.solve` solves with those options.

    Raises:
        InputError: as `build_problem`.
    """
    return build_problem(
        blocks,
        targets,
        objective=objective_of(options),
        joint_allowance=joint_allowance_of(options),
        exclude=options.get("exclude", ()),
        only=options.get("only"),
        overdue=options.get("overdue", ()),
        measure=options.get("error_measure", WORST_CASE),
        required_ratios=options.get("required_ratios", ()),
    )


def joint_allowance_of(options: Options) -> int:
    """The joint allowance of the contract, quanta, whatever the problem counts for a joint."""
    return options.get("joint_allowance", DEFAULT_JOINT_ALLOWANCE)


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
