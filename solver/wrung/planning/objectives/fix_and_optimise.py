"""A better plan: most of its stacks stay as they are, and the others are chosen anew.

A choice for a few stacks, of candidates that fit beside all others, is made and mostly proven best
in a moment, where one for sixty or more ends with nothing (fix and optimise: Helber and Sahling,
*International Journal of Production Economics* 123, 2010; from memory).
"""

from itertools import takewhile

import numpy as np

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import Ints, join_rows
from wrung.planning.candidates.walk import Candidates, distinct
from wrung.planning.pricing.prices import Priced
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import Choice, usages


def serving_more(
    question: Question, priced: Priced, offered: Candidates, plan: Candidates, deadline: Deadline
) -> Candidates:
    """The plan, or one that serves more, of its own candidates and of those offered.

    It ends where as many are served as the question asks for.
    """
    fixing = _Fixing(question, priced, plan, offered, deadline, exactly=False)
    return fixing.better(question.served.counts, deadline.tuning.effort_to_choose_anew)


def costing_less(  # noqa: PLR0913, PLR0917 - a question, a plan, and how far to go
    question: Question,
    priced: Priced,
    offered: Candidates,
    plan: Candidates,
    least: int,
    deadline: Deadline,
) -> Candidates:
    """The plan, or one that serves as many at a lower cost, of its candidates and those offered.

    It serves as many as the question asks for. No plan costs less than ``least``; as that is often
    what some plan costs, choices in vain get more effort.
    """
    fixing = _Fixing(question, priced, plan, offered, deadline, exactly=True)
    wanted = *question.served.counts, -least
    return fixing.better(wanted, deadline.tuning.effort_for_a_plan)


class _Fixing:
    """A plan and candidates, what they cost, and how much each uses of what they could overdraw.

    Plans serve ``exactly`` as many as the question asks for, or as many as can be.
    """

    def __init__(  # noqa: PLR0913 - as what it is for
        self,
        question: Question,
        priced: Priced,
        plan: Candidates,
        offered: Candidates,
        deadline: Deadline,
        *,
        exactly: bool,
    ) -> None:
        self._every, self._chosen = distinct(join_rows([plan, offered])), np.arange(len(plan))
        self._question, self._deadline, self._exactly = question, deadline, exactly
        self._costs = question.goal.costs(self._every)
        search = question.search(priced.prices)
        self._reduced = search.costs(self._every) - priced.least[self._every.demands]
        # Of hundreds of cliques they take some tenths of a second.
        used = takewhile(lambda _: not deadline.passed, usages(question.bench, self._every))
        own, none = list(used), np.zeros(0, np.int64)
        self._capacities = np.array([usage.capacity for usage in own], np.int64)
        # Entry by entry: which capacity is used, by which candidate, and how much of it.
        self._used = np.repeat(np.arange(len(own)), [len(usage.rows) for usage in own])
        self._users = np.concatenate([none, *(usage.rows for usage in own)])
        self._times = np.concatenate([none, *(usage.times for usage in own)])
        # Seeded, so that the same request gets the same answer.
        self._random = np.random.default_rng(1)

    def better(self, wanted: tuple[int, ...], effort: float) -> Candidates:
        """The plan, or a better one.

        Stacks with large reduced costs are chosen anew, and demands without one with them: as many
        as give a choice that is proven best within a small effort. After many in vain the effort
        doubles, up to ``effort``.

        Args:
            wanted: how many of each class are served, and then the cost, negative, if it matters; a
                plan worth that much ends the search, and only these count as progress.
            effort: the most that one choice gets.
        """
        tuning = self._deadline.tuning
        own, parts = min(tuning.effort_to_choose_anew, effort), len(wanted)
        size, in_vain = tuning.stacks_chosen_anew, 0
        while 0 < own <= effort and not self._deadline.passed:
            best = self._worth(self._chosen)
            if best[:parts] >= wanted:
                break
            every = size >= len(self._chosen)
            proven, rows = self._anew(size, own)
            worth = self._worth(rows)
            size = max(size + (1 if proven else -1), tuning.fewest_chosen_anew)
            in_vain = 0 if worth[:parts] > best[:parts] else in_vain + 1
            if in_vain >= tuning.most_chosen_in_vain:
                own, in_vain = 2 * own, 0
            # One that is as good leads to others.
            self._chosen = rows if worth >= best else self._chosen
            if proven and every:
                break
        return self._every.where(self._chosen)

    def _worth(self, rows: Ints) -> tuple[int, ...]:
        """How many demands of each class these serve, and at how low a cost."""
        counts = self._question.bench.counts(self._every.demands[rows])
        return *counts, -int(self._costs[rows].sum())

    def _anew(self, size: int, effort: float) -> tuple[bool, Ints]:
        """Whether it is proven best, and a choice where all but so many stacks stay, or go."""
        chosen, question, deadline = self._chosen, self._question, self._deadline
        noise = self._random.integers(question.grain, size=len(chosen))
        order = np.argsort(self._reduced[chosen] + noise, kind="stable")
        rows = self._beside(chosen[order[: max(len(chosen) - size, 0)]])
        few, costs, bench = self._every.where(rows), self._costs[rows], question.bench
        if self._exactly:
            exact = question.choice(few).solve("least_sum", costs, deadline, effort=effort)
            return exact.verdict == "best", rows[exact.rows]
        # With fewer of one class, there may be more of those after it than in what is asked for.
        alone, choice = bench.quota(question.served.sizes), Choice(bench, few, served=None)
        most = choice.most_served(alone, deadline, effort=effort, presolve=False, costs=costs)
        return most.verdict == "best", rows[most.rows]

    def _beside(self, fixed: Ints) -> Ints:
        """These, and all candidates of other demands that fit beside them."""
        demands, left = self._every.demands, self._capacities.copy()
        own = np.isin(self._users, fixed)
        np.subtract.at(left, self._used[own], self._times[own])
        fit = ~np.isin(demands, demands[fixed])
        fit[self._users[self._times > left[self._used]]] = False
        return np.concatenate([fixed, np.flatnonzero(fit)])
