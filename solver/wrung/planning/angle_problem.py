"""A case of angle blocks and the angles wanted from it, as a problem for the same engines.

Angles in quanta of 1e-9 seconds stand in place of lengths. Every block is two pieces: as it adds,
and turned over, as it subtracts.
"""

from collections.abc import Iterator

from wrung.answers import Objective
from wrung.blocks import Block, margin
from wrung.planning.problem import Piece, Problem, demand_of, priorities_of
from wrung.targets.angle_cases import AngleCase


def case_problem(case: AngleCase, objective: Objective) -> Problem:
    """The problem of one case; joints between wedges are assumed to add no angular error."""
    wanted = [target.angle_requirement() for target in case.targets]
    priorities = priorities_of(wanted)
    demands = tuple(demand_of(each, len(case.blocks), {}, priorities) for each in wanted)
    return Problem(
        pieces=tuple(piece for block in case.blocks for piece in _both_ways(block)),
        demands=demands,
        objective=objective,
        joint_allowance=0,
        joint_cost=0,
        priorities=priorities,
    )


def _both_ways(block: Block) -> Iterator[Piece]:
    for nominal in (block.nominal, -block.nominal):
        yield Piece(block=block, nominal=nominal, deviation=0, margin=margin(block), wear=False)
