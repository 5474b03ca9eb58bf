"""For a demand without a stack: the nearest lengths that can be built, below and above."""

from collections.abc import Sequence

from wrung.answers import Nearest, PlacedBlock
from wrung.deadline import Deadline
from wrung.handwork.order import wringing_order
from wrung.planning.lone import windows
from wrung.planning.problem import Problem


def nearest_below(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> Nearest | None:
    """The longest length below the demand's window that the free pieces can build.

    None where there is none, or where it was not proven before the deadline.
    """
    return _nearest(problem, windows.below(problem, demand, free, deadline).stack)


def nearest_above(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> Nearest | None:
    """The shortest length above the demand's window that they can build; None likewise."""
    return _nearest(problem, windows.above(problem, demand, free, deadline).stack)


def placed(problem: Problem, stack: Sequence[int]) -> tuple[PlacedBlock, ...]:
    """The blocks of a stack in wringing order."""
    pieces = [problem.pieces[index] for index in stack]
    return wringing_order(
        PlacedBlock(
            id=piece.block.id,
            nominal=piece.nominal,
            role=piece.block.role,
            unit=piece.block.unit,
        )
        for piece in pieces
    )


def _nearest(problem: Problem, stack: Sequence[int] | None) -> Nearest | None:
    if stack is None:
        return None
    return Nearest(
        length=sum(problem.pieces[index].nominal for index in stack),
        blocks=tuple(block.id for block in placed(problem, stack)),
    )
