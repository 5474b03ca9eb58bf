"""The same stacks with other blocks of the same lengths, for less error.

A plan by blocks takes any of those that are alike by length, of whatever grade and deviation.
"""

from collections import Counter
from collections.abc import Sequence
from itertools import combinations, islice

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints, Stock, join_rows, total_over_kinds
from wrung.planning.candidates.walk import Candidates, distinct, least_of_each, no_candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.selection.choice import Choice


def exchanged(bench: Workbench, plan: Candidates, deadline: Deadline) -> Candidates:
    """These stacks with the least largest error, then the least total, as far as found soon.

    Args:
        bench: its kinds are told apart by error.
        plan: the stacks; no clique overdraws a kind.
        deadline: for the whole.
    """
    alike, tuning, best = _alike(bench.stock), deadline.tuning, plan
    if not len(plan) or max(map(len, alike)) == 1:
        return plan
    offered = distinct(join_rows([plan, _others(bench, plan, alike, deadline)]))
    for aim in ("least_largest", "least_sum"):
        offered = offered.where(offered.errors <= best.errors.max(initial=0))
        choice = Choice(bench, offered, bench.quota(bench.counts(plan.demands)))
        effort = tuning.effort_for_exchanging
        found = choice.solve(aim, offered.errors, deadline, effort=effort, presolve=True)
        best = offered.where(found.rows) if len(found.rows) else best
    return best


def _alike(stock: Stock) -> list[Sequence[int]]:
    """By kind, those of the same length and role; a step and its body stand for themselves."""
    kinds = range(len(stock.nominals))
    lengths: list[int] = stock.nominals.tolist()
    places: dict[tuple[int, int, int], list[int]] = {}
    same: list[Sequence[int]] = []
    for kind, length in zip(kinds, lengths, strict=True):
        itself = kind if kind >= stock.steps else -1
        own = places.setdefault((length, int(kind >= stock.gauges), itself), [])
        own.append(kind)
        same.append(own)
    return same


def _others(
    bench: Workbench, plan: Candidates, alike: Sequence[Sequence[int]], deadline: Deadline
) -> Candidates:
    """Some ways to take the blocks of each stack, those with the least errors."""
    each = deadline.tuning.exchanged_each
    found = [no_candidates()]
    for row in range(len(plan)):
        if deadline.passed:
            break
        ways = _ways(bench, plan.where(np.array([row])), alike)
        found.append(least_of_each(ways, ways.errors, each))
    return join_rows(found)


def _ways(bench: Workbench, stack: Candidates, alike: Sequence[Sequence[int]]) -> Candidates:
    """Ways to take the blocks of a stack; of very many, some of those with small burdens."""
    stock, problem, demand = bench.stock, bench.problem, int(stack.demands[0])
    most = bench.deadline.tuning.most_exchanges
    own: list[int] = stack.kinds[0][stack.kinds[0] >= 0].tolist()
    kinds = np.zeros((1, 0), np.int64)
    for kind, count in Counter(alike[kind][0] for kind in own).items():
        more = _taken(stock, alike[kind], count, bench.deadline.tuning.most_exchanges_alike)
        kinds = np.hstack([kinds.repeat(len(more), axis=0), np.tile(more, (len(kinds), 1))])
        burdens = total_over_kinds(kinds, stock.burdens)
        kinds = kinds[np.argsort(burdens, kind="stable")[:most]]
    off = problem.off(demand, int(stock.nominals[own].sum()))
    burdens = total_over_kinds(kinds, stock.burdens) - problem.joint_cost
    errors = stock.errors(off + total_over_kinds(kinds, stock.deviations), burdens)
    found = Candidates(
        demands=stack.demands.repeat(len(kinds)),
        kinds=kinds,
        counts=stack.counts.repeat(len(kinds)),
        errors=errors,
    )
    limit = problem.demands[demand].most_error
    return found if limit is None else found.where(errors <= limit)


def _taken(stock: Stock, same: Sequence[int], count: int, most: int) -> Ints:
    """So many pieces of these kinds."""
    pieces = [kind for kind in same for _ in range(min(int(stock.capacities[kind]), count))]
    ways = dict.fromkeys(islice(combinations(pieces, count), most))
    return np.array(list(ways), np.int64)
