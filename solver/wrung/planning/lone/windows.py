"""One stack from free pieces, with its length in a window: the fewest blocks, or an extreme length.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`knapsack`); otherwise the model over single blocks is asked for the one stack.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Final, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.blockwise.solving import model_of, solve
from wrung.planning.lone.knapsack import Knapsack, Window, knapsack
from wrung.planning.problem import Demand, Piece, Problem
from wrung.tuning import Tuning


class Probe(Struct, frozen=True, kw_only=True):
    """Whether there is such a stack, and which.

    Attributes:
        stack: ascending indexes of its pieces, or None.
        decided: whether the answer is proven: that the stack is the longest or shortest, or that
            there is none. A stack that is only wanted to exist is its own proof.
    """

    stack: tuple[int, ...] | None
    decided: bool


UNDECIDED: Final = Probe(stack=None, decided=False)
NO_STACK: Final = Probe(stack=None, decided=True)


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
    if result.verdict == "impossible":
        return NO_STACK
    # Any stack shows that one exists; that it is the longest or shortest has to be proven.
    enough = result.verdict == "best" or (result.verdict == "found" and window.want == "fewest")
    if not enough or result.plan is None:
        return UNDECIDED
    return Probe(stack=tuple(free[place] for place in result.plan[0] or ()), decided=True)


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


Buildable: TypeAlias = bool | None
"""None where there are too many sums to list in time."""


def build(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Probe:
    """A stack that serves the demand, of few blocks."""
    wanted = problem.demands[demand]
    window = Window(low=max(wanted.low, 1), high=wanted.high)
    return _probes(problem, demand, free, (window,), deadline)[0]


def neighbours(
    problem: Problem, demand: int, free: Sequence[int], deadline: Deadline
) -> tuple[Probe, Probe]:
    """The longest stack that is too short for the demand, and the shortest that is too long."""
    wanted = problem.demands[demand]
    low = max(wanted.high + 1, 1)
    # Leaving any adding piece but a wear block out of the shortest such stack makes it too short.
    longest = max((problem.pieces[i].nominal for i in free), default=0)
    shorter = Window(low=1, high=wanted.low - 1, want="longest")
    longer = Window(low=low, high=low + max(wanted.wear, 1) * longest, want="shortest")
    below, above = _probes(problem, demand, free, (shorter, longer), deadline)
    return below, above


def _probes(
    problem: Problem,
    demand: int,
    free: Sequence[int],
    windows: Sequence[Window],
    deadline: Deadline,
) -> list[Probe]:
    """By sums where pieces only add, and there are not too many."""
    wanted, counts = problem.demands[demand], None
    sack = None if problem.signed else _sack(wanted, problem.pieces, free, deadline.tuning)
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
        found.append(NO_STACK if stack is None else Probe(stack=stack, decided=True))
    return found


def _sack(
    wanted: Demand, pieces: Sequence[Piece], free: Sequence[int], tuning: Tuning
) -> Knapsack | None:
    """None where there are too many ends."""
    room = wanted.most - wanted.wear
    return knapsack(pieces, free, wear=wanted.wear, step=wanted.step, room=room, tuning=tuning)


def buildable_alone(problem: Problem, deadline: Deadline) -> tuple[Buildable, ...]:
    """For each demand whether it can be built from all pieces, where that is quickly proven.

    Demands that may use the same number of gauge pieces share one table of sums.
    """
    if problem.signed:
        return (None,) * len(problem.demands)
    groups: defaultdict[tuple[int, bool, int], list[int]] = defaultdict(list)
    for index, demand in enumerate(problem.demands):
        groups[demand.wear, demand.step, demand.most - demand.wear].append(index)
    known: dict[int, Buildable] = {}
    for group in groups.values():
        demands = [problem.demands[k] for k in group]
        known.update(zip(group, _judge(problem, demands, deadline), strict=True))
    return tuple(known[k] for k in range(len(problem.demands)))


def _judge(problem: Problem, demands: Sequence[Demand], deadline: Deadline) -> Iterable[Buildable]:
    """Of demands that are alike but for their lengths."""
    # More wear blocks are asked for than the stack may have blocks.
    if demands[0].most < demands[0].wear:
        return [False] * len(demands)
    free = range(len(problem.pieces))
    sack = _sack(demands[0], problem.pieces, free, deadline.tuning)
    if sack is None:
        return [None] * len(demands)
    share = deadline.share(deadline.tuning.share_for_each_alone)
    counts = sack.counts(max(demand.high for demand in demands), share)
    windows = [Window(low=max(demand.low, 1), high=demand.high) for demand in demands]
    if counts is None:
        # If no whole number of steps lies in the window, that is proof enough without any sums.
        return [None if sack.fits(window) else False for window in windows]
    return [sack.builds(counts, window) for window in windows]
