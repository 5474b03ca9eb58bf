"""The least largest error: can as many demands be served with no error above a limit?"""

from collections.abc import Callable
from functools import partial

from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import join_rows
from wrung.planning.candidates.walk import Candidates
from wrung.planning.candidates.workbench import Workbench
from wrung.planning.objectives.alone import error_grain
from wrung.planning.objectives.closing import Settled, quick_choice
from wrung.planning.objectives.decomposition import Decomposition, Outcome
from wrung.planning.objectives.stages import settle_sum
from wrung.planning.pricing.prices import price
from wrung.planning.pricing.question import Question


class Largest(Struct, frozen=True, kw_only=True):
    """The least largest error of plans.

    Attributes:
        value: that of the best plan seen, quanta.
        bound: no plan's is less; equal to ``value`` where settled.
        chosen: that plan.
        total: of plans within the bound, the least total of errors; None if that was not reached.
    """

    value: int
    bound: int
    chosen: Candidates
    total: Settled | None


class Halving:
    """Searches between what is proven impossible and a plan that is known.

    Linear programmes rule out limits: up or down in steps that grow, then by halving, to the least
    limit that they do not rule out. Only there is a plan searched for. Mostly there is one, and
    then nothing is left to be shown.

    Args:
        ask: for plans with no error above a limit, on a workbench.
        bench: the one whose plans are wanted.
        pool: candidates to begin with.
        known: a plan that serves as many.
        least: no plan's largest error is less.
    """

    def __init__(
        self,
        *,
        ask: Callable[[int, Workbench], Question],
        bench: Workbench,
        pool: Candidates,
        known: Candidates,
        least: int,
    ) -> None:
        self._ask, self._bench = ask, bench
        self._pool = join_rows([pool, known])
        self._chosen = known
        self._value = int(known.errors.max(initial=0))
        # All errors are multiples of it.
        self._grain = error_grain(bench)
        self._low = least
        self._decomposition = Decomposition(self._question)

    def _question(self, limit: int) -> Question:
        return self._ask(limit, self._bench)

    def run(self, deadline: Deadline) -> Largest:
        """Until the least largest error and the total are settled, or the time is up."""
        tuning = deadline.tuning
        own = self._question(self._low)
        if own.bench.spelt_out and own.blocks is None:
            self._rule_out(self._decomposition.begins, self._low, deadline)
            self._narrow(deadline)
        guess = self._low + self._low // tuning.part_of_first_limit
        known = self._rule_out(self._ruled_out, guess, deadline)
        self._look_for_a_plan(self._low + self._low // tuning.part_of_first_limit, deadline)
        if not known:
            # With a plan, or with other columns, the programme may be able to tell.
            self._rule_out(self._ruled_out, (self._low + self._value) // 2, deadline)
        total = self._settle(deadline)
        return Largest(
            value=self._value,
            bound=min(self._low, self._value),
            chosen=self._chosen,
            total=total,
        )

    def _narrow(self, deadline: Deadline) -> None:
        """Plans and proofs within one limit after another, until they meet or no more is learnt."""
        tuning, learnt, tries = deadline.tuning, -1, deadline.tuning.tries_of_starts
        apart = self._low // tuning.parts_of_limit
        while learnt < self._decomposition.learnt and not deadline.passed:
            learnt, without = self._decomposition.learnt, self._low - self._grain
            while self._value - without > max(apart, self._grain) and not deadline.passed:
                near = min((self._value - without) // 3, self._low // 2)
                limit = self._on_grain(without + max(near, self._grain))
                outcome, plan = self._decomposition.plan(limit, tries, deadline)
                if plan is not None:
                    self._take(plan)
                    continue
                without = limit
                if outcome == "impossible":
                    self._low = limit + self._grain
            apart, tries = apart // 4, 2 * tries

    def _look_for_a_plan(self, limit: int, deadline: Deadline) -> None:
        """If none is near yet: a fallback where the proof takes too long."""
        if self._value <= limit or deadline.passed:
            return
        question = self._question(limit)
        plan = quick_choice(question, self._within(limit), deadline)
        if plan is not None:
            self._take(plan)

    def _take(self, plan: Candidates) -> None:
        self._chosen, self._value = plan, int(plan.errors.max(initial=0))

    def _settle(self, deadline: Deadline) -> Settled | None:
        """The total at the least largest error: upwards to a first plan, then by halving."""
        step, found = 0, False
        while not deadline.passed:
            limit = min(self._low + step, self._value)
            total = self._close(limit, deadline)
            if total.end == "open":
                return total
            if total.end == "impossible":
                # Errors are multiples of the grain, so none lies between.
                self._low = limit + self._grain
            elif self._value <= self._low:
                return total
            found |= total.end == "settled"
            between = (self._value - self._low) // 2 // self._grain * self._grain
            step = between if found else max(2 * step, self._grain)
        return None

    def _rule_out(
        self, outcome: Callable[[int, Deadline], Outcome], guess: int, deadline: Deadline
    ) -> bool:
        """Raise the bound to the least limit that is not ruled out, if in time.

        Whether plans within it are then likely, as a relaxation has one.
        """
        high, seen = self._value, set[bool]()
        step = max(self._low // deadline.tuning.parts_of_limit, self._grain)
        while self._low < high and not deadline.passed:
            limit = self._on_grain(min(max(guess, self._low), high - self._grain))
            found = outcome(limit, deadline)
            if found == "open":
                break
            seen.add(found == "impossible")
            if found == "impossible":
                self._low = limit + self._grain
            else:
                # Where the programme came to a plan, its largest error may be less.
                high = min(limit, self._value)
            # In steps that grow, until the limit sought is known to lie between two.
            guess = limit + step if found == "impossible" else limit - step
            guess = guess if len(seen) == 1 else (self._low + high) // 2
            step *= 2
        return self._low >= high

    def _on_grain(self, limit: int) -> int:
        return self._low + (limit - self._low) // self._grain * self._grain

    def _ruled_out(self, limit: int, deadline: Deadline) -> Outcome:
        """Whether a linear programme rules the limit out; what it leads to joins the pool."""
        question = self._question(limit)
        # A plan within the limit costs no more than the limit for each of its stacks.
        enough, slack = question.served.total * limit, question.served.total * self._low // 50
        pool = self._within(limit)
        priced = price(question, pool, slack=slack, enough=enough, deadline=deadline)
        above = self._pool.where(self._pool.errors > limit)
        self._pool = join_rows([above, priced.pool])
        if priced.plan is not None and priced.plan.errors.max() < self._value:
            self._take(priced.plan)
        if priced.bound > enough:
            return "impossible"
        return "open" if priced.lacking else "possible"

    def _within(self, limit: int) -> Candidates:
        return self._pool.where(self._pool.errors <= limit)

    def _close(self, limit: int, deadline: Deadline) -> Settled:
        question = self._question(limit)
        # Where the number of blocks is given, ties have the same number.
        question = replace(question, fewest=question.blocks is None)
        # Elsewhere ties are broken by blocks, and patterns proved nothing that others did not.
        ask = None if question.fewest else partial(self._ask, limit)
        total = settle_sum(question, self._within(limit), deadline, ask=ask)
        if len(total.chosen):
            self._take(total.chosen)
        return total
