"""From chosen candidates, which name kinds, to the pieces on the shelf, and back."""

from collections import Counter

import numpy as np

from wrung.planning.assignment import assigned
from wrung.planning.candidates.stock import Stock
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Plan
from wrung.planning.problem import Problem, error_of


def hand_out(bench: Workbench, chosen: Candidates) -> Plan:
    """Give each stack its pieces; no clique may overdraw a kind."""
    rows = dict(zip(chosen.demands.tolist(), chosen.kinds.tolist(), strict=True))
    counts = [
        Counter(kind for kind in rows[demand] if kind >= 0) if demand in rows else None
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
    width = max((len(stack) for _, stack in stacks), default=0)
    kinds = [
        [*(kind_of[index] for index in stack), *[-1] * (width - len(stack))] for _, stack in stacks
    ]
    return Candidates(
        demands=np.array([demand for demand, _ in stacks], np.int64),
        kinds=np.array(kinds, np.int64).reshape(len(stacks), width),
        counts=np.array([len(stack) for _, stack in stacks], np.int64),
        errors=np.array([error_of(problem, *row) for row in stacks], np.int64),
    )
