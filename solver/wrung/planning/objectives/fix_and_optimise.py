"""A plan that serves more: most of its stacks stay as they are, and the others are chosen anew.

A choice for a few stacks, of candidates that fit beside all others, is made and mostly proven best
in a moment, where one for sixty or more ends with nothing (fix and optimise: Helber and Sahling,
*International Journal of Production Economics* 123, 2010; from memory).
"""

import numpy as np
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.quota import ByClass
from wrung.planning.candidates.stock import Ints, join_rows
from wrung.planning.candidates.walk import Candidates
from wrung.planning.pricing.prices import Priced
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import Choice, Most, usages


def serving_more(
    question: Question, priced: Priced, offered: Candidates, plan: Candidates, deadline: Deadline
) -> Candidates:
    """The plan, or one that serves more, of its own candidates and of those offered.

    Stacks with large reduced costs are chosen anew, and demands without one with them: as many as
    give a choice that is proven best within a small effort. It ends where as many are served as the
    question asks for.
    """
    fixing, tuning = _Fixing(question, priced, join_rows([plan, offered])), deadline.tuning
    chosen, size, in_vain = np.arange(len(plan)), tuning.stacks_chosen_anew, 0
    while in_vain < tuning.most_chosen_in_vain and not deadline.passed:
        best = fixing.worth(chosen)
        if best[0] >= question.served.counts:
            break
        found, every = fixing.anew(chosen, size, deadline), size >= len(chosen)
        proven, worth = found.verdict == "best", fixing.worth(found.rows)
        size = max(size + (1 if proven else -1), tuning.fewest_chosen_anew)
        in_vain = 0 if worth[0] > best[0] else in_vain + 1
        # One that is as good leads to others.
        chosen = found.rows if worth >= best else chosen
        if proven and every:
            break
    return fixing.every.where(chosen)


class _Fixing:
    """Candidates, what they cost, and how much each uses of what they could overdraw."""

    def __init__(self, question: Question, priced: Priced, every: Candidates) -> None:
        self.every, self._question = every, question
        self._costs = question.goal.costs(every)
        search = question.search(priced.prices)
        self._reduced = search.costs(every) - priced.least[every.demands]
        own, none = list(usages(question.bench, every)), np.zeros(0, np.int64)
        self._capacities = np.array([usage.capacity for usage in own], np.int64)
        # Entry by entry: which capacity is used, by which candidate, and how much of it.
        self._used = np.repeat(np.arange(len(own)), [len(usage.rows) for usage in own])
        self._users = np.concatenate([none, *(usage.rows for usage in own)])
        self._times = np.concatenate([none, *(usage.times for usage in own)])
        # Seeded, so that the same request gets the same answer.
        self._random = np.random.default_rng(1)

    def worth(self, rows: Ints) -> tuple[ByClass, int]:
        """How many demands of each class these serve, and at how low a cost."""
        return self._question.bench.counts(self.every.demands[rows]), -int(self._costs[rows].sum())

    def anew(self, chosen: Ints, size: int, deadline: Deadline) -> Most:
        """The most that can be served where all but so many of these stay, or are left out."""
        question = self._question
        noise = self._random.integers(question.grain, size=len(chosen))
        order = np.argsort(self._reduced[chosen] + noise, kind="stable")
        rows = self._beside(chosen[order[: max(len(chosen) - size, 0)]])
        choice = Choice(question.bench, self.every.where(rows), served=None)
        effort = deadline.tuning.effort_to_choose_anew
        # With fewer of one class, there may be more of those after it than in what is asked for.
        alone, costs = question.bench.quota(question.served.sizes), self._costs[rows]
        most = choice.most_served(alone, deadline, effort=effort, presolve=False, costs=costs)
        return replace(most, rows=rows[most.rows])

    def _beside(self, fixed: Ints) -> Ints:
        """These, and all candidates of other demands that fit beside them."""
        demands, left = self.every.demands, self._capacities.copy()
        own = np.isin(self._users, fixed)
        np.subtract.at(left, self._used[own], self._times[own])
        fit = ~np.isin(demands, demands[fixed])
        fit[self._users[self._times > left[self._used]]] = False
        return np.concatenate([fixed, np.flatnonzero(fit)])
