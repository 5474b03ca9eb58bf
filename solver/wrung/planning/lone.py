"""One stack by itself: whether some pieces can build a length, and which lengths they can build.

This is exact and takes a millisecond where the lengths in play share a step that is not too fine
(`Knapsack`); otherwise the model over single blocks is asked for the one stack.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property
from math import gcd
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.blockwise.choices import model_of, solve
from wrung.planning.blockwise.rules import RULES
from wrung.planning.blockwise.scaled import Scaled
from wrung.planning.finding import IMPOSSIBLE, UNDECIDED, Result
from wrung.planning.problem import Demand, Piece, Problem
from wrung.planning.solvers import Verdict
from wrung.subset_sums import (
    Counts,
    Kind,
    Reached,
    affordable,
    least_counts,
    most_of,
    nothing,
    one_step,
    pick,
)

Ints: TypeAlias = npt.NDArray[np.int64]
Pieces: TypeAlias = tuple[int, ...]
"""Ascending indexes of pieces."""

Want: TypeAlias = Literal["fewest", "longest", "shortest"]
"""Which stack is wanted among those that serve a demand."""


class Knapsack:
    """What one stack may be made of.

    Args:
        pieces: of the problem.
        free: indexes of those that are free.
        demand: the most wear pieces that are asked for, and whether one piece may be a step.
        high: the longest sum that is asked for, quanta.
        deadline: for working out the sums.
    """

    def __init__(
        self,
        pieces: Sequence[Piece],
        free: Iterable[int],
        demand: Demand,
        high: int,
        deadline: Deadline,
    ) -> None:
        self._alike: defaultdict[tuple[bool, bool, int], list[int]] = defaultdict(list)
        # Of stacks with as few pieces, the order decides which is picked. Plans put together stack
        # by stack serve more if it is that of lengths.
        for index in sorted(free, key=lambda k: (pieces[k].nominal, k)):
            piece = pieces[index]
            if (demand.wear or not piece.wear) and (demand.step or not piece.step):
                self._alike[piece.likeness].append(index)
        # Without pieces there is no divisor, and any step will do.
        self._unit = gcd(*(nominal for _, _, nominal in self._alike)) or 1
        self._layers = demand.wear + 1
        self._kinds = (
            *(
                Kind(
                    size=n // self._unit,
                    is_wear=worn,
                    count=len(own[: demand.wear if worn else None]),
                )
                for (worn, stepped, n), own in self._alike.items()
                if not stepped
            ),
            *one_step(n // self._unit for _, stepped, n in self._alike if stepped),
        )
        whole = sum(kind.count * max(kind.size, *kind.others, 0) for kind in self._kinds)
        self._limit = max(0, min(high // self._unit, whole))
        # Sums of pieces that subtract may be made up out of longer ones.
        self._known = all(kind.size >= 0 for kind in self._kinds) and affordable(
            self._kinds, self._layers, self._limit, deadline
        )

    @cached_property
    def _counts(self) -> Counts:
        """The least number of pieces by sum, in steps; if these are too many, that of no pieces."""
        if not self._known:
            return nothing(self._layers, 0)
        return least_counts(self._kinds, self._layers, self._limit)

    def can(self, demand: Demand) -> Verdict:
        """Whether some stack serves the demand, by nominal lengths."""
        # If no whole number of steps lies in the window, that is proof enough without any sums.
        if not self._alike or -(-demand.low // self._unit) > demand.high // self._unit:
            return "impossible"
        if not self._known:
            return "unknown"
        return "impossible" if self._best(demand, "fewest") is None else "found"

    def may_build_beside(self, lengths: Ints, demand: Demand) -> Reached:
        """Beside which of these lengths the rest of the demand may be built.

        How many pieces that takes, and of which role, does not count here.
        """
        first = np.maximum(-((lengths - max(demand.low, 1)) // self._unit), 0)
        last = np.minimum((demand.high - lengths) // self._unit, len(self._sums) - 2)
        ends, starts = np.maximum(last + 1, 0), np.minimum(first, len(self._sums) - 1)
        may: Reached = self._sums[ends] > self._sums[starts]
        return may

    @cached_property
    def _sums(self) -> Ints:
        """How many sums below each, in steps, some pieces have."""
        some = self._counts <= most_of(self._counts, None)
        return np.append(0, some.any(axis=0).cumsum())

    def stack(self, demand: Demand, want: Want = "fewest") -> Pieces | None:
        """The wanted stack for the demand; without the sums, only that of no pieces is known."""
        total = self._best(demand, want)
        if total is None:
            return None
        left = {likeness: iter(own) for likeness, own in self._alike.items()}
        chosen = (
            (kind.is_wear, kind.is_step, size * self._unit)
            for kind, size in pick(self._kinds, demand.wear, total)
        )
        return tuple(sorted(next(left[likeness]) for likeness in chosen))

    def _best(self, demand: Demand, want: Want) -> int | None:
        """What the pieces of the wanted stack add up to, in steps."""
        first = max(-(-demand.low // self._unit), 0)
        within = self._counts[demand.wear, first : max(demand.high // self._unit + 1, 0)]
        places = np.flatnonzero(within <= most_of(self._counts, demand.most))
        if not len(places):
            return None
        wanted = {"fewest": within.argmin(), "longest": places[-1], "shortest": places[0]}
        return first + int(wanted[want])


def build(problem: Problem, demand: int, free: Sequence[int], deadline: Deadline) -> Result:
    """A stack that serves the demand, of few blocks: a plan of nothing else."""
    wanted = _no_shorter(problem.demands[demand])
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
    for demand in map(_no_shorter, problem.demands):
        ends = (demand.wear, demand.step)
        if ends not in sacks:
            share = deadline.share(deadline.tuning.share_for_each_alone)
            free = range(len(problem.pieces))
            sacks[ends] = Knapsack(problem.pieces, free, demand, high, share)
        found.append(sacks[ends].can(demand))
    return tuple(found)


def _no_shorter(demand: Demand) -> Demand:
    """Its window without 0, as no blocks make no stack."""
    return replace(demand, low=max(demand.low, 1))


def _built(
    problem: Problem, free: Sequence[int], wanted: Sequence[tuple[Demand, Want]], deadline: Deadline
) -> tuple[Result, ...]:
    """For each of these demands, alike but for their windows, the wanted stack."""
    high = max(demand.high for demand, _ in wanted)
    share = deadline.share(deadline.tuning.share_for_sums)
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
        cliques=((0,),),
        objective="fewest_blocks",
        joint_allowance=0,
        joint_cost=0,
    )
