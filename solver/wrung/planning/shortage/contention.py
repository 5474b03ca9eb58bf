"""When demands contend."""

from collections.abc import Sequence
from datetime import datetime

from wrung.planning.problem import Problem


def contended(problem: Problem, demands: Sequence[int]) -> tuple[datetime | None, datetime | None]:
    """The time in which all of them are needed, where there is one; None where it is open."""
    alone = len(demands) == 1
    if alone or not any(set(demands).issubset(clique) for clique in problem.cliques):
        return None, None
    wanted = [problem.demands[demand].requirement for demand in demands]
    starts = [each.needed_from for each in wanted if each.needed_from is not None]
    ends = [each.needed_until for each in wanted if each.needed_until is not None]
    return max(starts, default=None), min(ends, default=None)
