"""The first objective: serve as many demands as possible, and with the fewest blocks."""

from functools import cached_property, partial

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.assignment import as_candidates
from wrung.planning.building.proofs import Proofs
from wrung.planning.building.recreating import recreated
from wrung.planning.building.stacking import first_plan
from wrung.planning.candidates.goals import BLOCK, block_goal, error_goal
from wrung.planning.candidates.quota import ByClass, Quota
from wrung.planning.candidates.search import Cap
from wrung.planning.candidates.stock import NEVER, by_error, by_nominal, join_rows
from wrung.planning.candidates.walk import (
    Candidates,
    first_of_each,
    no_candidates,
)
from wrung.planning.candidates.workbench import FREE, Workbench, set_up, spelt_out
from wrung.planning.objectives.closing import Settled, impossible
from wrung.planning.objectives.stages import (
    any_plan,
    completed,
    more_near,
    most_of_nearest,
    next_lower,
    ruled_out,
    settle_sum,
    unproven,
)
from wrung.planning.pricing.question import Question
from wrung.planning.problem import Problem
from wrung.planning.selection.choice import Choice, Most
from wrung.planning.selection.scarcity import pack, pack_starts


class Served(Struct, frozen=True, kw_only=True):
    """The largest number served of each class.

    Attributes:
        count: demands served by the plan found; none where the time was up before.
        most: no plan that serves as many of the classes before serves more.
        blocks: the stage that found it: fewest blocks, over pieces by nominal length.
        least: no plan that serves the most has fewer blocks.
    """

    count: ByClass
    most: ByClass
    blocks: Settled
    least: int


def own_caps(bench: Workbench) -> tuple[Cap, ...]:
    """The demands' own limits on blocks and on errors, if any of them limits anything."""
    return (*_block_caps(bench), *_error_caps(bench))


def _block_caps(bench: Workbench) -> tuple[Cap, ...]:
    limits = [d.most for d in bench.problem.demands]
    # A limit above all pieces limits nothing, and a cap costs a table.
    if min(limits) >= len(bench.problem.pieces):
        return ()
    most = np.array(limits, np.int64)
    return (Cap(goal=block_goal(bench.stock, bench.starts), most=most * BLOCK),)


def _error_caps(bench: Workbench) -> tuple[Cap, ...]:
    if not bench.problem.limits_errors:
        return ()
    goal = error_goal(bench.stock, bench.starts)
    return (Cap(goal=goal, most=bench.most_errors),)


def block_question(bench: Workbench, counts: ByClass) -> Question:
    """Plans with the fewest blocks that serve so many, within the demands' own limits."""
    return Question(
        bench=bench,
        goal=block_goal(bench.stock, bench.starts),
        caps=own_caps(bench),
        served=bench.quota(counts),
        window=0,
        grain=BLOCK,
    )


def serve(bench: Workbench, deadline: Deadline, *, fewest: bool = True) -> Served | None:
    """Serve as many demands as possible; None if that could not be worked out.

    Unless ``fewest`` blocks are wanted, any plan that serves as many is good enough.
    """
    question = block_question(bench, bench.problem.sizes)
    cheapest = question.search().cheapest(0)
    if not cheapest.exact:
        return None
    possible = bench.counts(np.flatnonzero(cheapest.least < NEVER))
    share = deadline.share(deadline.tuning.share_for_proofs)
    most = Proofs(bench.problem, deadline.tuning).served_at_most(possible, share)
    if not any(most) or deadline.passed:
        return None
    question = replace(question, served=bench.quota(most))
    pool = first_of_each(cheapest.candidates, deadline.tuning.pool_each)
    return _Serving(question, possible, deadline).run(pool, fewest=fewest)


def keeping_time(problem: Problem, served: Served, deadline: Deadline) -> Deadline:
    """Some time before it, to say why, where it is proven that not all can be served."""
    short = served.count == served.most and sum(served.most) < len(problem.demands)
    return deadline.keeping(deadline.tuning.most_kept_to_explain_ms) if short else deadline


def all_candidates(bench: Workbench, most: int) -> Candidates | None:
    """Every candidate of every demand, within its own limits; None if there are more than that."""
    search = block_question(bench, bench.problem.sizes).search()
    everything = np.full(len(bench.problem.demands), FREE)
    found = search.within(everything, bench.deadline.tuning.partial_a_candidate * most)
    return None if found is None or len(found) > most else found


def most_among(bench: Workbench, every: Candidates, alone: Quota, deadline: Deadline) -> Most:
    """As many as all candidates can serve, see `Choice.most_served`."""
    effort = deadline.tuning.effort_among_all
    choice = Choice(bench, every, None)
    return choice.most_served(alone, deadline, effort=effort, presolve=False)


class Soon(Struct, frozen=True, kw_only=True):
    """A plan found with a limited effort, by its candidates; no plan serves more than ``most``."""

    most: int
    chosen: Candidates


def bench_for_serving(problem: Problem, deadline: Deadline) -> Workbench | None:
    """The workbench to see on how many can be served; None where that is too large."""
    # Where errors are limited, nominal lengths alone do not decide what can be built.
    stock = by_error(problem) if problem.limits_errors else by_nominal(problem)
    bench = set_up(problem, stock, deadline)
    return bench and spelt_out(bench)


def serve_soon(bench: Workbench, most: int, enough: int, deadline: Deadline) -> Soon:
    """As many as are found with a limited effort, of demands of a single class.

    Args:
        bench: the problem.
        most: no plan serves more.
        enough: served by a plan that is known.
        deadline: for the whole.
    """
    question = replace(block_question(bench, (most,)), quick=True)
    cheapest = question.search().cheapest(0)
    if not cheapest.exact:
        return Soon(most=most, chosen=no_candidates())
    pool = first_of_each(cheapest.candidates, deadline.tuning.pool_each)
    (most,), soon = _soon(question, pool, deadline)
    if len(soon.chosen) == most:
        return Soon(most=most, chosen=soon.chosen)
    if not bench.spelt_out:
        most = min(most, *pack(bench, question.caps, deadline))
    for _ in range(deadline.tuning.most_lowered):
        if most <= enough or deadline.passed:
            break
        asked = replace(question, served=bench.quota((most,)))
        found = most_of_nearest(asked, pool, deadline)
        if found is not None:
            return Soon(most=most, chosen=found)
        most -= 1
    return Soon(most=most, chosen=no_candidates())


def _soon(question: Question, pool: Candidates, deadline: Deadline) -> tuple[ByClass, Settled]:
    """No plan serves more than that, as far as is known; a plan that serves as many, if found."""
    bench, most = question.bench, question.served.counts
    if not bench.spelt_out:
        return most, any_plan(question, pool, deadline)
    # Where times differ, packing is worth its time at once; otherwise only if no plan is found.
    packed, starts = pack_starts(bench, question.caps, deadline)
    most = min(most, packed)
    asked = replace(question, served=bench.quota(most))
    return most, completed(asked, starts, deadline)


class _Serving:
    """Goes down from the most that may be served to a number that is."""

    def __init__(self, question: Question, possible: ByClass, deadline: Deadline) -> None:
        self._question = question
        self._possible = possible
        self._deadline = deadline
        self._most = question.served.counts
        self._share_for_most = deadline.tuning.share_for_most
        self._left_open = set[ByClass]()
        # By numbers served, what plans that serve as many cost at least.
        self._least: dict[ByClass, int] = {}

    def run(self, pool: Candidates, *, fewest: bool) -> Served:
        """From candidates to begin with; any plan will do unless the fewest blocks are wanted."""
        bench, stacked = self._question.bench, no_candidates()
        at_once = bench.spelt_out
        soon = impossible()
        if at_once or not fewest:
            self._most, soon = _soon(self._question, pool, self._deadline)
            if self._counts(soon.chosen) == self._most and not fewest:
                return self._served(soon)
            pool, stacked = self._learn(soon, self._most, pool), soon.chosen
        # Prices that rule numbers out may take all the time, and some is kept for a plan.
        until = self._deadline.share(self._deadline.tuning.share_to_rule_out)
        while not at_once and any(self._most) and not until.passed:
            soon, pool = self._quickly(pool, until)
            stacked = soon.chosen
            if soon.end == "settled":
                return self._served(soon)
            if soon.end == "open":
                break
        if not at_once:
            self._most = min(self._most, self._packed)
        # What is proven of the starts that cost least says nothing of stacks with others.
        open_blocks = fewest and not at_once and bench.cheapest is None
        if self._counts(stacked) < self._most or open_blocks:
            stacked = max(stacked, self._stacked(fewest=fewest), key=self._worth)
        if self._counts(stacked) < self._most:
            stacked = self._near(self._most, soon, stacked)
        if self._counts(stacked) < self._most:
            stacked = max(stacked, self._among_all(), key=self._counts)
        return self._down(join_rows([pool, stacked]), stacked)

    def _quickly(self, pool: Candidates, until: Deadline) -> tuple[Settled, Candidates]:
        """What a first look at the most comes to, and the candidates to go on from."""
        quick = replace(self._asked(self._most), first_look=True, quick=True)
        soon = settle_sum(quick, pool, self._deadline, until=until)
        pool = self._learn(soon, self._most, pool)
        # Prices rule numbers out one by one, packing perhaps several in the time of one. Of several
        # classes, it is left to `_refused`.
        many = self._deadline.tuning.many_columns
        slow = soon.priced is not None and len(soon.priced.pool) >= many
        if soon.end == "impossible" and slow and len(self._most) == 1:
            self._most = min(self._most, self._packed)
        return soon, pool

    def _among_all(self) -> Candidates:
        """Lower the most to what whole stacks allow, if they can be listed; the plan found."""
        bench, until = self._question.bench, self._deadline.share(self._share_for_most)
        every = all_candidates(bench, self._deadline.tuning.most_candidates)
        if every is None:
            return no_candidates()
        # With fewer of one class, there may be more of those after it than in the most.
        most = most_among(bench, every, bench.quota(self._possible), until)
        self._most = min(self._most, most.counts)
        return every.where(most.rows)

    @cached_property
    def _packed(self) -> ByClass:
        """The most that scarce pieces allow."""
        return pack(self._question.bench, self._question.caps, self._deadline)

    def _down(self, pool: Candidates, stacked: Candidates) -> Served:
        counts, hurried = self._most, False
        whole = self._deadline.remaining
        while any(counts) and not self._deadline.passed:
            known = stacked if self._counts(stacked) == counts else None
            # Some time is kept for a plan that serves fewer, in case none is found that serves as
            # many.
            until = (
                self._deadline
                if known is not None or hurried
                else self._deadline.share(self._share_for_most)
            )
            ask = partial(block_question, counts=counts)
            blocks = settle_sum(self._asked(counts), pool, until, known, ask)
            pool = self._learn(blocks, counts, pool)
            if len(blocks.chosen):
                return self._served(blocks)
            if blocks.end == "open" and self._counts(stacked) < counts:
                stacked = self._near(counts, blocks, stacked)
                if self._counts(stacked) >= counts:
                    counts = self._counts(stacked)
                    continue
            # Finding nothing in this time proves nothing: as many as are stacked soon lead to a
            # plan.
            left = self._deadline.remaining / whole
            hurried |= blocks.end == "open" and left < self._share_for_most
            lower = self._below(counts)
            if blocks.end == "impossible" and counts != self._most:
                lower = min(lower, self._most)
            counts = self._counts(stacked) if hurried and len(stacked) else lower
        return self._served(unproven(self._question, stacked))

    def _stacked(self, *, fewest: bool) -> Candidates:
        """A plan put together in milliseconds: it may serve as many as a search finds none for."""
        bench = self._question.bench
        plan = first_plan(bench.problem, self._deadline, quick=True)
        found = as_candidates(bench, plan)
        if not fewest or self._counts(found) < self._most:
            return found
        return as_candidates(bench, recreated(bench.problem, plan, self._deadline))

    def _near(self, counts: ByClass, blocks: Settled, known: Candidates) -> Candidates:
        """The plan known, or one near the prices for so many that serves more."""
        if blocks.priced is None:
            return known
        return more_near(self._asked(counts), blocks.priced, known, self._deadline)

    def _asked(self, counts: ByClass) -> Question:
        return replace(self._question, served=self._question.bench.quota(counts))

    def _learn(self, blocks: Settled, counts: ByClass, pool: Candidates) -> Candidates:
        """What an outcome says of the most, and the candidates to go on from."""
        refused = blocks.end == "impossible"
        if not refused:
            self._least[counts] = max(self._least.get(counts, 0), blocks.bound)
        # Only refusals from the top down lower what is proven.
        if refused and self._most == counts:
            self._most = self._refused(blocks, pool)
        return pool if refused or blocks.priced is None else blocks.priced.pool

    def _refused(self, blocks: Settled, pool: Candidates) -> ByClass:
        """The next lower counts, where the most was refused."""
        most = self._most
        for urgent in range(1, len(most)):
            # Where the more urgent classes alone are too many, fewer of the others are no help.
            if not any(most[urgent:]):
                break
            part = (*most[:urgent], *(0 for _ in most[urgent:]))
            if (fewer := self._alone(part, urgent - 1, pool)) != part:
                return self._packed_within((*fewer[:urgent], *self._possible[urgent:]))
        lower = self._below(most)
        if blocks.priced is not None and most[-1]:
            return next_lower(self._asked(most), blocks.priced)
        return lower if most[-1] else self._packed_within(lower)

    def _alone(self, counts: ByClass, last: int, pool: Candidates) -> ByClass:
        """These, or the next with fewer of the last class there that prices leave open."""
        while counts[last] and counts not in self._left_open and not self._deadline.passed:
            asked = self._asked(counts)
            priced = ruled_out(asked, pool, self._deadline)
            if priced is None:
                self._left_open.add(counts)
                break
            counts = next_lower(asked, priced)
        return counts

    def _packed_within(self, lower: ByClass) -> ByClass:
        """With fewer of one class, scarce pieces may be left for more of those after it."""
        if not any(lower):
            return lower
        bench, caps = self._question.bench, self._question.caps
        return min(lower, pack(bench, caps, self._deadline, lower))

    def _below(self, counts: ByClass) -> ByClass:
        """The next in order: one fewer of the last class of which any are served."""
        last = max(k for k, count in enumerate(counts) if count)
        return (*counts[:last], counts[last] - 1, *self._possible[last + 1 :])

    def _worth(self, plan: Candidates) -> tuple[ByClass, int]:
        """How many it serves, and with how few blocks."""
        return self._counts(plan), -int(plan.counts.sum())

    def _counts(self, candidates: Candidates) -> ByClass:
        return self._question.bench.counts(candidates.demands)

    def _served(self, blocks: Settled) -> Served:
        # A plan has a whole number of blocks, so a fraction is rounded up.
        least = -(-self._least.get(self._most, 0) // BLOCK)
        count = self._counts(blocks.chosen)
        return Served(count=count, most=self._most, blocks=blocks, least=least)
