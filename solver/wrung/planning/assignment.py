"""From chosen candidates, which name kinds, to the pieces on the shelf, and back."""

import numpy as np

from wrung.planning.candidates import Candidates
from wrung.planning.finding import Plan
from wrung.planning.problem import worst_case_error
from wrung.planning.workbench import Workbench


def hand_out(bench: Workbench, chosen: Candidates) -> Plan:
    """Give each stack its pieces: by start of need, each kind's first piece that is free.

    Where no crowd overdraws a kind, this always succeeds (interval graphs colour greedily).
    """
    demands = bench.problem.demands
    last_use: dict[int, int] = {}
    plan: list[tuple[int, ...] | None] = [None] * len(demands)
    numbers: list[int] = chosen.demands.tolist()
    kinds_of: list[list[int]] = chosen.kinds.tolist()
    rows = zip(numbers, kinds_of, strict=True)
    for demand, kinds in sorted(rows, key=lambda row: (demands[row[0]].start, row[0])):
        taken: list[int] = []
        for kind in (kind for kind in kinds if kind >= 0):
            piece = next(
                index
                for index in bench.stock.pieces[kind]
                if index not in last_use or demands[last_use[index]].end <= demands[demand].start
            )
            last_use[piece] = demand
            taken.append(piece)
        plan[demand] = tuple(sorted(taken))
    return tuple(plan)


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
