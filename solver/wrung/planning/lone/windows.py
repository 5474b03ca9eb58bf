"""One stack from free pieces, with its length in a window: the fewest blocks, or an extreme length.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`knapsack`); otherwise the model over single blocks is asked for the one stack.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.blockwise.solving import model_of, solve
from wrung.planning.lone.knapsack import Knapsack, Want, Window
from wrung.planning.problem import Demand, Problem
from wrung.planning.solvers import Verdict


class Probe(Struct, frozen=True, kw_only=True):
    """The wanted stack, as ascending indexes of its pieces; or the verdict that there is none."""

    verdict: Verdict
    stack: tuple[int, ...] | None = None


UNDECIDED: Final = Probe(verdict="unknown")
NO_STACK: Final = Probe(verdict="impossible")


def build(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Probe:
    """A stack that serves the demand, of few blocks."""
    return _probes(problem, demand, free, (_window(problem.demands[demand]),), deadline)[0]


def neighbours(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[Probe, Probe]:
    """The longest stack that is too short for the demand, and the shortest that is too long."""
    wanted = problem.demands[demand]
    low = max(wanted.high + 1, 1)
    # Leaving any adding piece but a wear block out of the shortest such stack makes it too short.
    longest = max((problem.pieces[i].nominal for i in free), default=0)
    shorter = _window(wanted, 1, wanted.low - 1, "longest")
    longer = _window(wanted, low, low + max(wanted.wear, 1) * longest, "shortest")
    below, above = _probes(problem, demand, free, (shorter, longer), deadline)
    return below, above


def buildable_alone(problem: Problem, deadline: Deadline) -> tuple[Verdict, ...]:
    """Of each demand whether it can be built from all pieces, where that is quickly proven.

    Demands that are alike but for their lengths and limits share one table of sums.
    """
    groups: defaultdict[tuple[int, bool], list[int]] = defaultdict(list)
    for index, demand in enumerate(problem.demands):
        groups[demand.wear, demand.step].append(index)
    known: dict[int, Verdict] = {}
    for group in groups.values() if not problem.signed else ():
        demands = [problem.demands[k] for k in group]
        known.update(zip(group, _judged(problem, demands, deadline), strict=True))
    return tuple(known.get(k, "unknown") for k in range(len(problem.demands)))


def _judged(problem: Problem, demands: Sequence[Demand], deadline: Deadline) -> list[Verdict]:
    sack = _sack(problem, demands[0], range(len(problem.pieces)))
    share = deadline.share(deadline.tuning.share_for_each_alone)
    counts = sack.counts(max(demand.high for demand in demands), share)
    found: list[Verdict] = []
    for window in map(_window, demands):
        if counts is not None:
            found.append("found" if sack.builds(counts, window) else "impossible")
        else:
            # If no whole number of steps lies in the window, that is proof enough without any sums.
            found.append("unknown" if sack.fits(window) else "impossible")
    return found


def _sack(problem: Problem, wanted: Demand, free: Sequence[int]) -> Knapsack:
    return Knapsack(problem.pieces, free, wear=wanted.wear, step=wanted.step)


def _window(
    wanted: Demand, low: int | None = None, high: int | None = None, want: Want = "fewest"
) -> Window:
    """Its own lengths, or others."""
    return Window(
        low=max(wanted.low, 1) if low is None else low,
        high=wanted.high if high is None else high,
        wear=wanted.wear,
        most=wanted.most,
        want=want,
    )


def _probes(
    problem: Problem,
    demand: int,
    free: Sequence[int],
    windows: Sequence[Window],
    deadline: Deadline,
) -> list[Probe]:
    """By sums where pieces only add, and there are not too many."""
    wanted, counts = problem.demands[demand], None
    sack = None if problem.signed else _sack(problem, wanted, free)
    if wanted.most < max(wanted.wear, 1):
        return [NO_STACK] * len(windows)
    found: list[Probe] = []
    for window in windows:
        if window.high < window.low or (sack is not None and not sack.fits(window)):
            found.append(NO_STACK)
            continue
        if deadline.passed:
            found.append(UNDECIDED)
            continue
        if sack is not None and counts is None:
            counts = sack.counts(max(each.high for each in windows), deadline)
        if sack is None or counts is None:
            found.append(_searched(problem, demand, free, window, deadline))
            continue
        stack = sack.stack(counts, window)
        found.append(NO_STACK if stack is None else Probe(verdict="found", stack=stack))
    return found


def _searched(
    problem: Problem, demand: int, free: Sequence[int], window: Window, deadline: Deadline
) -> Probe:
    """The wanted stack with its length in the window, if found and proven before the deadline."""
    if deadline.remaining < deadline.tuning.least_seconds_for_one:
        return UNDECIDED
    choices = model_of(Scaled(_alone(problem, demand, free, window)), RULES, deadline)
    if choices is None:
        return UNDECIDED
    choices.model.add(choices.served[0] == 1)
    aim = choices.blocks[0] if window.want == "fewest" else choices.largest
    until, effort = deadline.share(deadline.tuning.share_for_one), deadline.tuning.effort_for_one
    result = solve(choices, aim + 0, (None,), until, effort)
    # Any stack shows that one exists; that it is the longest or shortest has to be proven.
    enough = result.verdict == "best" or (result.verdict == "found" and window.want == "fewest")
    if not enough or result.plan is None:
        return NO_STACK if result.verdict == "impossible" else UNDECIDED
    stack = tuple(free[place] for place in result.plan[0] or ())
    return Probe(verdict="found", stack=stack)


def _alone(problem: Problem, demand: int, free: Sequence[int], window: Window) -> Problem:
    """The demand by itself; its stacks only err by how far they are from one end of the window."""
    end = window.low if window.want == "shortest" else window.high
    wanted = replace(
        problem.demands[demand],
        target=end,
        low=window.low,
        high=window.high,
        most_error=None,
        priority_class=0,
    )
    return Problem(
        pieces=tuple(replace(problem.pieces[piece], deviation=0, margin=0) for piece in free),
        demands=(wanted,),
        cliques=((0,),),
        objective="fewest_blocks",
        joint_allowance=0,
        joint_cost=0,
    )
