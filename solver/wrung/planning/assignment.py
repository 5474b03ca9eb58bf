"""Which stack gets which of the interchangeable pieces: one exact method for all callers."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

import numpy as np

from wrung.planning.candidates.stock import Stock
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem, error_of, rivals


def hand_out(bench: Workbench, chosen: Candidates) -> Plan:
    """Give each stack its pieces; no clique may overdraw a kind."""
    rows = dict(zip(chosen.demands.tolist(), chosen.kinds.tolist(), strict=True))
    counts = [
        Counter(kind for kind in rows[demand] if 0 <= kind < bench.stock.bodies)
        if demand in rows
        else None
        for demand in range(len(bench.problem.demands))
    ]
    return assigned(bench.problem, counts, bench.stock.pieces)


def as_candidates(bench: Workbench, plan: Plan) -> Candidates:
    """The stacks of a plan as candidates over the kinds of a workbench."""
    return stacks_as_candidates(bench.problem, bench.stock, plan)


def stacks_as_candidates(problem: Problem, stock: Stock, plan: Plan) -> Candidates:
    """The stacks of a plan as candidates over the kinds of a stock."""
    kind_of = {index: kind for kind, row in enumerate(stock.pieces) for index in row}
    stacks = [(demand, stack) for demand, stack in enumerate(plan) if stack is not None]
    own = [[k for index in stack for k in stock.with_body(kind_of[index])] for _, stack in stacks]
    width = max(map(len, own), default=0)
    kinds = [[*each, *[-1] * (width - len(each))] for each in own]
    return Candidates(
        demands=np.array([demand for demand, _ in stacks], np.int64),
        kinds=np.array(kinds, np.int64).reshape(len(stacks), width),
        counts=np.array([len(stack) for _, stack in stacks], np.int64),
        errors=np.array([error_of(problem, *row) for row in stacks], np.int64),
    )


Apart: TypeAlias = Mapping[int, Collection[int]]
"""For each demand, in order of start, the demands that it must not share a piece with."""


def assigned(
    problem: Problem,
    counts: Sequence[Mapping[int, int] | None],
    kinds: Sequence[Sequence[int]],
    alike: Iterable[Sequence[int]] | None = None,
) -> Plan:
    """Give each stack pieces of its own; no clique may use more of a kind than there are.

    Args:
        problem: of the demands.
        counts: by demand, how many pieces of each kind its stack has; None without a stack.
        kinds: the pieces of each kind.
        alike: kinds that are the same blocks, one way round or the other; each its own by default.
    """
    stacks = {demand: stack for demand, stack in enumerate(counts) if stack is not None}
    if alike is None and len(counts) == len(stacks) == 1:
        # Nobody else wants any of them: what follows adds a sixth to the time of a single stack.
        alone = stacks[0].items()
        return (tuple(sorted(piece for kind, n in alone for piece in kinds[kind][:n])),)
    starts = [demand.start for demand in problem.demands]
    # A stack cannot use a piece twice, either.
    apart = {
        demand: rivals(problem, demand) | {demand}
        for demand in sorted(stacks, key=lambda demand: (starts[demand], demand))
    }
    pieces: dict[int, list[int]] = {demand: [] for demand in stacks}
    used = sorted({kind for stack in stacks.values() for kind in stack})
    for same in ((kind,) for kind in used) if alike is None else alike:
        wanted = [
            (demand, kind)
            for demand in apart
            for kind in same
            for _ in range(stacks[demand].get(kind, 0))
        ]
        places = _places([demand for demand, _ in wanted], apart, len(kinds[same[0]]))
        for (demand, kind), place in zip(wanted, places, strict=True):
            pieces[demand].append(kinds[kind][place])
    return tuple(
        tuple(sorted(pieces[demand])) if demand in stacks else None for demand in range(len(counts))
    )


def _places(holders: Sequence[int], apart: Apart, there: int) -> list[int]:
    """A place from 0 to ``there`` - 1 for each holder, which is a demand, in order of start.

    Where no clique wants more than there are, an assignment always exists: demands that overlap in
    time, or take turns in a sequence, form a perfect graph, which needs only as many colours as its
    largest clique has members.
    """
    given: list[int] = []
    tries = [iter(range(there))]
    while len(given) < len(holders):
        place = next(_free(holders, given, apart, tries[-1]), None)
        if place is None:
            # With times alone the first free place will do; with sequences an earlier choice may be
            # undone.
            tries.pop()
            given.pop()
            continue
        given.append(place)
        tries.append(iter(range(there)))
    return given


def _free(
    holders: Sequence[int], given: list[int], apart: Apart, left: Iterator[int]
) -> Iterator[int]:
    """The places left to try for the next holder that none of its neighbours has."""
    own = apart[holders[len(given)]]
    taken = {place for place, holder in zip(given, holders, strict=False) if holder in own}
    return (place for place in left if place not in taken)
