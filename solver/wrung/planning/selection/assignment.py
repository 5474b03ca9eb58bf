"""From chosen candidates, which name kinds, to the pieces on the shelf, and back."""

from collections.abc import Collection, Mapping, Sequence

import numpy as np

from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan
from wrung.planning.problem import worst_case_error


def hand_out(bench: Workbench, chosen: Candidates) -> Plan:
    """Give each stack its pieces.

    Where no crowd overdraws a kind there is always a way: demands that overlap in time, or take
    turns in a sequence, make a perfect graph, whose colours its largest cliques suffice for.
    """
    rows: dict[int, list[int]] = dict(
        zip(chosen.demands.tolist(), chosen.kinds.tolist(), strict=True)
    )
    pieces: dict[int, list[int]] = {demand: [] for demand in rows}
    beside = _beside(bench, rows)
    for kind in sorted({kind for kinds in rows.values() for kind in kinds if kind >= 0}):
        # A demand stands there once for each piece of the kind that it uses.
        wanted = [demand for demand in beside for other in rows[demand] if other == kind]
        for demand, piece in zip(
            wanted, _colours(wanted, beside, bench.stock.pieces[kind]), strict=True
        ):
            pieces[demand].append(piece)
    return tuple(
        tuple(sorted(pieces[demand])) if demand in rows else None
        for demand in range(len(bench.problem.demands))
    )


def _beside(bench: Workbench, rows: Collection[int]) -> dict[int, set[int]]:
    """By demand, in order of their start, the demands that it may share no piece with."""
    starts = [demand.start for demand in bench.problem.demands]
    return {
        # Itself among them: a stack cannot use a piece twice, either.
        demand: {other for crowd in bench.problem.crowds if demand in crowd for other in crowd}
        for demand in sorted(rows, key=lambda demand: (starts[demand], demand))
    }


def _colours(
    wanted: Sequence[int], beside: Mapping[int, set[int]], pieces: Sequence[int]
) -> list[int]:
    """A piece for each, none twice side by side: the first that is free, else other ways."""
    given: list[int] = []
    tries = [iter(pieces)]
    while len(given) < len(wanted):
        demand = wanted[len(given)]
        taken = {p for p, d in zip(given, wanted, strict=False) if d in beside[demand]}
        piece = next((p for p in tries[-1] if p not in taken), None)
        if piece is None:
            # In time alone the first free piece does; with sequences an earlier one may have to go.
            tries.pop()
            given.pop()
            continue
        given.append(piece)
        tries.append(iter(pieces))
    return given


def as_candidates(bench: Workbench, plan: Plan) -> Candidates:
    """The stacks of a plan as candidates over the kinds of a workbench."""
    kind_of = {index: kind for kind, row in enumerate(bench.stock.pieces) for index in row}
    stacks = [(demand, stack) for demand, stack in enumerate(plan) if stack is not None]
    width = max((len(stack) for _, stack in stacks), default=0)
    kinds = [
        [*(kind_of[index] for index in stack), *[-1] * (width - len(stack))] for _, stack in stacks
    ]
    return Candidates(
        demands=np.array([demand for demand, _ in stacks], np.int64),
        kinds=np.array(kinds, np.int64).reshape(len(stacks), width),
        counts=np.array([len(stack) for _, stack in stacks], np.int64),
        errors=np.array([worst_case_error(bench.problem, *row) for row in stacks], np.int64),
    )
