"""How long a search may take, and the plan that belongs to an answer."""

from wrung.answers import Answer
from wrung.deadline import Cancel, Deadline
from wrung.errors import Fault, InputError
from wrung.memory import Memory
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem


def limits(time_limit_ms: float, memory_limit_mb: float, cancel: Cancel | None) -> Deadline:
    """The limits of one call; its time begins now.

    Raises:
        InputError: there is no time, or no memory.
    """
    given = {"/time_limit_ms": time_limit_ms, "/memory_limit_mb": memory_limit_mb}
    faults = [
        Fault(pointer=pointer, detail="must be greater than zero")
        for pointer, limit in given.items()
        if not limit > 0
    ]
    if faults:
        raise InputError(faults)
    return Deadline(time_limit_ms, cancel, Memory(memory_limit_mb))


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
