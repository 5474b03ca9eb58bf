"""The problem that follows an answer: built again from what was asked, with the answer's plan."""

from collections.abc import Sequence

from wrung.answers import Answer
from wrung.blocks import Block
from wrung.joints import DEFAULT_JOINT_ALLOWANCE
from wrung.metrology.measuring import WORST_CASE
from wrung.options import Options
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem, build_problem
from wrung.targets import Target


def problem_of(blocks: Sequence[Block], targets: Sequence[Target], options: Options) -> Problem:
    """The problem that `wrung.solve` solves with those options.

    Raises:
        InputError: as `build_problem`.
    """
    return build_problem(
        blocks,
        targets,
        objective=options.get("objective", "fewest_blocks"),
        joint_allowance=joint_allowance_of(options),
        exclude=options.get("exclude", ()),
        only=options.get("only"),
        measure=options.get("error_measure", WORST_CASE),
        required_ratios=options.get("required_ratios", ()),
    )


def joint_allowance_of(options: Options) -> int:
    """The contract's joint allowance, quanta, whatever the problem counts a joint as."""
    return options.get("joint_allowance", DEFAULT_JOINT_ALLOWANCE)


def plan_of(problem: Problem, answer: Answer) -> Plan:
    """The answer's stacks as a plan of the problem."""
    place = {piece.block.id: index for index, piece in enumerate(problem.pieces)}
    stacks = {
        stack.ref: tuple(sorted(place[block.id] for block in stack.blocks))
        for stack in answer.stacks
    }
    return tuple(stacks.get(demand.requirement.ref) for demand in problem.demands)
