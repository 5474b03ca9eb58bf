"""Which stack gets which of the interchangeable pieces: one exact method for all callers."""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

import numpy as np

from wrung.planning.candidates.stock import Stock
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem, error_of


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


Beside: TypeAlias = Mapping[int, Collection[int]]
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
        # Nobody else wants any of them.
        alone = stacks[0].items()
        return (tuple(sorted(piece for kind, n in alone for piece in kinds[kind][:n])),)
    neighbours = beside(problem, stacks)
    pieces: dict[int, list[int]] = {demand: [] for demand in stacks}
    used = sorted({kind for stack in stacks.values() for kind in stack})
    for same in ((kind,) for kind in used) if alike is None else alike:
        wanted = {
            demand: [kind for kind in same for _ in range(stack.get(kind, 0))]
            for demand, stack in stacks.items()
        }
        sizes = {demand: len(own) for demand, own in wanted.items()}
        for demand, held in assign(sizes, neighbours, len(kinds[same[0]])).items():
            pieces[demand] += [
                kinds[kind][place] for kind, place in zip(wanted[demand], held, strict=True)
            ]
    return tuple(
        tuple(sorted(pieces[demand])) if demand in stacks else None for demand in range(len(counts))
    )


def beside(problem: Problem, demands: Collection[int]) -> Beside:
    """Among these demands; each conflicts with itself too: a stack cannot use a piece twice."""
    starts = [demand.start for demand in problem.demands]
    return {
        demand: {other for clique in problem.cliques if demand in clique for other in clique}
        for demand in sorted(demands, key=lambda demand: (starts[demand], demand))
    }


def assign(wanted: Mapping[int, int], rivals: Beside, there: int) -> dict[int, tuple[int, ...]]:
    """Places 0 to ``there`` - 1 for each demand that wants any, as many as it wants.

    Where no clique wants more than there are, an assignment always exists: demands that overlap in
    time, or take turns in a sequence, form a perfect graph, which needs only as many colours as its
    largest clique has members.
    """
    if len(rivals) == 1:
        return {demand: tuple(range(count)) for demand, count in wanted.items() if count}
    holders = [demand for demand in rivals for _ in range(wanted.get(demand, 0))]
    given: list[int] = []
    tries = [iter(range(there))]
    while len(given) < len(holders):
        place = next(_free(holders, given, rivals, tries[-1]), None)
        if place is None:
            # With times alone the first free place will do; with sequences an earlier choice may be
            # undone.
            tries.pop()
            given.pop()
            continue
        given.append(place)
        tries.append(iter(range(there)))
    found: dict[int, tuple[int, ...]] = {}
    for demand, place in zip(holders, given, strict=True):
        found[demand] = (*found.get(demand, ()), place)
    return found


def _free(
    holders: list[int], given: list[int], rivals: Beside, left: Iterator[int]
) -> Iterator[int]:
    """The places left to try for the next holder that none of its neighbours has."""
    own = rivals[holders[len(given)]]
    taken = {place for place, holder in zip(given, holders, strict=False) if holder in own}
    return (place for place in left if place not in taken)
