"""From chosen candidates, which name kinds, to the pieces on the shelf, and back."""

from collections import Counter

import numpy as np

from wrung.planning.assignment import beside, places
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan
from wrung.planning.problem import error_of


def hand_out(bench: Workbench, chosen: Candidates) -> Plan:
    """Give each stack its pieces; no clique may overdraw a kind."""
    rows: dict[int, list[int]] = dict(
        zip(chosen.demands.tolist(), chosen.kinds.tolist(), strict=True)
    )
    stacks = {demand: Counter(k for k in kinds if k >= 0) for demand, kinds in rows.items()}
    pieces: dict[int, list[int]] = {demand: [] for demand in stacks}
    rivals = beside(bench.problem, stacks)
    for kind in sorted({kind for stack in stacks.values() for kind in stack}):
        own = bench.stock.pieces[kind]
        wanted = {demand: stack[kind] for demand, stack in stacks.items()}
        for demand, held in places(wanted, rivals, len(own)).items():
            pieces[demand] += [own[place] for place in held]
    return tuple(
        tuple(sorted(pieces[demand])) if demand in stacks else None
        for demand in range(len(bench.problem.demands))
    )


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
        errors=np.array([error_of(bench.problem, *row) for row in stacks], np.int64),
    )
