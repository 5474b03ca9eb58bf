"""Where a shelf is so thin that all candidates can be listed, every goal is settled among them.

On such a shelf most pieces are contended for, and fractions of stacks say little: prices and
patterns of the finest pieces then leave gaps that whole stacks do not have.
"""

from collections.abc import Iterator

import numpy as np

from wrung.planning.assignment import hand_out
from wrung.planning.candidates.quota import Quota
from wrung.planning.candidates.stock import Ints
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.finding import Finding, found_in_stages, unserved
from wrung.planning.objectives.serving import all_candidates, most_among
from wrung.planning.proof import Goal, goals_of
from wrung.planning.selection.choice import Aim, Choice


def best_among_all(bench: Workbench) -> Finding | None:
    """A best plan; None where there are too many candidates, or one was not proven."""
    every = all_candidates(bench, bench.deadline.tuning.few_candidates)
    if every is None or bench.deadline.passed:
        return None
    alone = bench.quota(bench.counts(np.unique(every.demands)))
    most = most_among(bench, every, alone, bench.deadline)
    if most.verdict != "best":
        return None
    settled = [*_settled(bench, every, bench.quota(most.counts))]
    if not settled:
        return None
    bounds = (*unserved(bench.problem, most.counts), *(value for _, value in settled))
    finding = found_in_stages(bench.problem, hand_out(bench, settled[-1][0]), bounds)
    return finding if finding.objective_proven else None


def _settled(
    bench: Workbench, offered: Candidates, served: Quota
) -> Iterator[tuple[Candidates, int]]:
    """Goal by goal, until one is not proven: a best plan, and its value."""
    effort, limits = bench.deadline.tuning.effort_among_all, list[tuple[Goal, int]]()
    for goal in goals_of(bench.problem)[len(bench.problem.sizes) :]:
        choice = Choice(bench, offered, served)
        for limited, value in limits:
            choice.limit_sum(_costs(offered, limited), value)
        aim: Aim = "least_largest" if goal == "largest" else "least_sum"
        found = choice.solve(aim, _costs(offered, goal), bench.deadline, effort=effort)
        if found.verdict != "best":
            return
        yield offered.where(found.rows), found.value
        if goal == "largest":
            offered = offered.where(offered.errors <= found.value)
        else:
            limits.append((goal, found.value))


def _costs(offered: Candidates, goal: Goal) -> Ints:
    return offered.counts if goal == "blocks" else offered.errors
