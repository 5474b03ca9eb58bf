"""One stack by itself: whether some pieces can build a length, and which lengths they can build.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`Knapsack`), and a few where only the inch and the metric lengths by themselves do (`TwoUnits`);
otherwise the model over single blocks is asked for the one stack.
"""

from collections.abc import Sequence

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import model_of, solve
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import IMPOSSIBLE, UNDECIDED, Result
from wrung.planning.knapsack import Knapsack, Want
from wrung.planning.problem import Demand, Problem
from wrung.planning.solvers import Verdict
from wrung.planning.two_units import of_two_units


def build(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Result:
    """A stack that serves the demand, of few blocks: a plan of nothing else."""
    wanted = no_shorter(problem.demands[demand])
    return _built(problem, free, ((wanted, "fewest"),), deadline)[0]


def neighbours(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[Result, ...]:
    """The longest stack that is too short for the demand, and the shortest that is too long."""
    wanted = problem.demands[demand]
    low = max(wanted.high + 1, 1)
    # Leaving any adding piece but a wear block out of the shortest such stack makes it too short.
    longest = max((problem.pieces[i].nominal for i in free), default=0)
    shorter = replace(wanted, low=1, high=wanted.low - 1)
    longer = replace(wanted, low=low, high=low + max(wanted.wear, 1) * longest)
    return _built(problem, free, ((shorter, "longest"), (longer, "shortest")), deadline)


def buildable_alone(problem: Problem, deadline: Deadline) -> tuple[Verdict, ...]:
    """Of each demand whether it can be built from all pieces, where that is quickly proven.

    Demands that are alike but for their lengths and limits share one table of sums.
    """
    sacks: dict[tuple[int, bool], Knapsack] = {}
    high = max((demand.high for demand in problem.demands), default=0)
    found: list[Verdict] = []
    for demand in map(no_shorter, problem.demands):
        ends = (demand.wear, demand.step)
        if ends not in sacks:
            share = deadline.share(deadline.tuning.share_for_each_alone)
            free = range(len(problem.pieces))
            sacks[ends] = Knapsack(problem.pieces, free, demand, high, share)
        found.append(sacks[ends].can(demand))
    return tuple(found)


def no_shorter(demand: Demand) -> Demand:
    """Its window without 0, as no blocks make no stack."""
    return replace(demand, low=max(demand.low, 1))


def _built(
    problem: Problem, free: Sequence[int], wanted: Sequence[tuple[Demand, Want]], deadline: Deadline
) -> tuple[Result, ...]:
    """For each of these demands, alike but for their windows, the wanted stack."""
    high = max(demand.high for demand, _ in wanted)
    if deadline.passed:
        return tuple(UNDECIDED for _ in wanted)
    share = deadline.share(deadline.tuning.share_for_sums)
    both = of_two_units(problem, free, wanted[0][0], high, share)
    if both is not None:
        return tuple(both.stack(demand, want) for demand, want in wanted)
    sack = Knapsack(problem.pieces, free, wanted[0][0], high, share)
    found: list[Result] = []
    for demand, want in wanted:
        can = sack.can(demand)
        if can == "impossible":
            found.append(IMPOSSIBLE)
        elif can == "unknown":
            found.append(_searched(problem, free, demand, want, deadline))
        else:
            found.append(Result(verdict="found", plan=(sack.stack(demand, want),)))
    return tuple(found)


def _searched(
    problem: Problem, free: Sequence[int], demand: Demand, want: Want, deadline: Deadline
) -> Result:
    """The wanted stack with its length in the window, if found and proven before the deadline."""
    if deadline.remaining < deadline.tuning.least_seconds_for_one:
        return UNDECIDED
    choices = model_of(Scaled(_alone(problem, free, demand, want)), RULES, deadline)
    if choices is None:
        return UNDECIDED
    choices.model.add(choices.served[0] == 1)
    aim = choices.blocks[0] if want == "fewest" else choices.largest
    until, effort = deadline.share(deadline.tuning.share_for_one), deadline.tuning.effort_for_one
    result = solve(choices, aim + 0, (None,), until, effort)
    # Any stack shows that one exists; that it is the longest or shortest has to be proven.
    enough = result.verdict == "best" or (result.verdict == "found" and want == "fewest")
    if not enough or result.stack is None:
        return IMPOSSIBLE if result.verdict == "impossible" else UNDECIDED
    return Result(verdict="found", plan=(tuple(free[place] for place in result.stack),))


def _alone(problem: Problem, free: Sequence[int], demand: Demand, want: Want) -> Problem:
    """The demand by itself; its stacks only err by how far they are from one end of the window."""
    end = demand.low if want == "shortest" else demand.high
    return Problem(
        pieces=tuple(replace(problem.pieces[piece], deviation=0, margin=0) for piece in free),
        demands=(replace(demand, target=end, most_error=None, priority_class=0),),
        objective="fewest_blocks",
        joint_allowance=0,
        joint_cost=0,
    )
