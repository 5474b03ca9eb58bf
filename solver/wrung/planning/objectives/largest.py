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
from wrung.planning.objectives.by_patterns import Ask
from wrung.planning.objectives.closing import Settled
from wrung.planning.objectives.decomposition import Decomposition, Outcome
from wrung.planning.objectives.stages import close, meet, settle_sum
from wrung.planning.pricing.diving import dive
from wrung.planning.pricing.prices import Priced, price
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


def settled_first(bench: Workbench, stacks: int) -> bool:
    """Whether so few stacks are settled after blocks before any are built anew.

    Lengths that lie in windows take longer to settle.
    """
    return stacks <= bench.deadline.tuning.most_settled_first and not bench.problem.tolerant


class Halving:
    """Searches between what is proven impossible and a plan that is known.

    Linear programmes rule limits out, or are rounded to plans within them, until the two meet or
    nearly so. At the least limit that is not ruled out, all candidates of better plans then show
    whether there is one.

    Args:
        ask: for plans with no error above a limit, on a workbench, by all sides of the error or
            not.
        improve: a plan that is no worse, found in that time.
        bench: the one whose plans are wanted.
        pool: candidates to begin with.
        known: a plan that serves as many.
        least: no plan's largest error is less.
        signs: whether searches take all sides of the error at once, see `goals.error_goal`.
    """

    def __init__(  # noqa: PLR0913 - what is asked, and what is known
        self,
        *,
        ask: Callable[[int, Workbench, bool], Question],
        improve: Callable[[Candidates, Deadline], Candidates],
        bench: Workbench,
        pool: Candidates,
        known: Candidates,
        least: int,
        signs: bool,
    ) -> None:
        self._ask, self._bench, self._signs = ask, bench, signs
        self._improve = improve
        self._pool = join_rows([pool, known])
        self._chosen = known
        self._value = int(known.errors.max(initial=0))
        # All errors are multiples of it: a limit between two would rule out the next one as well.
        self._grain = error_grain(bench)
        self._low = -(-least // self._grain) * self._grain
        self._decomposition = Decomposition(self._question)
        self._last: Priced | None = None

    def _question(self, limit: int) -> Question:
        return self._ask(limit, self._bench, self._signs)

    def _asking(self, limit: int) -> Ask:
        return lambda bench: self._ask(limit, bench, self._signs)

    def run(self, deadline: Deadline) -> Largest:
        """Until the least largest error and the total are settled, or the time is up."""
        tuning, own, total = deadline.tuning, self._question(self._low), None
        wide = own.bench.spelt_out and own.blocks is None
        if wide:
            self._priced(self._value, deadline)
        soon = own.blocks is not None and settled_first(self._bench, own.served.total)
        in_rounds = wide or soon
        *_, last = tuning.tries_within_limit
        for tries in tuning.tries_within_limit:
            whole = not in_rounds or tries == last
            part = deadline.share(1.0 if whole else tuning.share_for_a_round)
            self._round(tries, part, deadline, wide=wide)
            # Till then all candidates of better plans are too many, or take too long to settle.
            if whole or not self._far:
                total = self._settle(deadline)
            if deadline.passed or self._value <= self._low:
                break
            # That takes more tables, but keeps searches small that grew too large.
            self._signs = True
        return Largest(
            value=self._value,
            bound=min(self._low, self._value),
            chosen=self._chosen,
            total=total,
        )

    def _round(self, tries: int, part: Deadline, deadline: Deadline, *, wide: bool) -> None:
        """One limit after another, then stacks built anew; ``wide`` if starts are completed."""
        tuning, left = deadline.tuning, deadline.remaining
        look = partial(self._completed, tries) if wide else self._priced
        self._narrow(look, tries, part, below=not wide)
        if self._far:
            as_long_ms = (left - deadline.remaining) * 1000
            until = deadline.share(tuning.share_for_better_plans, as_long_ms)
            self._take(self._improve(self._chosen, until))

    @property
    def _far(self) -> bool:
        """Whether plan and bound are still far apart."""
        return self._value - self._low > self._low // self._bench.deadline.tuning.parts_of_limit

    def _narrow(
        self,
        look: Callable[[int, Deadline], Outcome],
        tries: int,
        deadline: Deadline,
        *,
        below: bool,
    ) -> None:
        """Look for plans within one limit after another, until these nearly meet what is proven.

        With ``below``, just below each plan that was found first.
        """
        tuning = deadline.tuning
        apart = max(self._low // tuning.parts_of_limit // tries, self._grain)
        without = self._low - self._grain
        reach, drop = max(self._low // tuning.part_of_first_limit, self._grain), 0
        while self._value - without > apart and not deadline.passed:
            near = without + max(
                min((self._value - without) // tuning.parts_between, reach), self._grain
            )
            limit = self._on_grain(max(near, self._value - drop) if drop else near)
            outcome = look(limit, deadline)
            if outcome == "impossible":
                self._low = limit + self._grain
            if self._value <= limit:
                # A programme that comes to a plan often comes to the best one: if so, the limit
                # just below is ruled out at once.
                wider = 2 * drop + self._low // tuning.parts_of_limit if drop else self._grain
                drop = wider if below else 0
                continue
            if not drop:
                without, reach = limit, 2 * reach
            elif outcome == "impossible":
                without = limit
            drop = 0

    def _completed(self, tries: int, limit: int, deadline: Deadline) -> Outcome:
        """A plan by completing starts that fit side by side."""
        outcome, plan = self._decomposition.plan(limit, tries, deadline)
        if plan is not None:
            self._take(plan)
        return outcome

    def _take(self, plan: Candidates) -> None:
        self._chosen, self._value = plan, int(plan.errors.max(initial=0))

    def _settle(self, deadline: Deadline) -> Settled | None:
        """The total at the least largest error: upwards to a first plan, then by halving."""
        step, settled = 0, None
        while not deadline.passed:
            limit = min(self._low + step, self._value)
            total = self._close(limit, deadline)
            if total.end == "open":
                return total
            if total.end == "impossible":
                # Errors are multiples of the grain, so none lies between.
                self._low = limit + self._grain
            else:
                settled = total
            # The least total within a wider limit is the least here, too, if the largest error of
            # its plan proves to be the least.
            if settled is not None and self._value <= self._low:
                return settled
            between = (self._value - self._low) // 2 // self._grain * self._grain
            step = max(2 * step, self._grain) if settled is None else between
        return None

    def _on_grain(self, limit: int) -> int:
        return self._low + (limit - self._low) // self._grain * self._grain

    def _priced(self, limit: int, deadline: Deadline) -> Outcome:
        """A plan by rounding a linear programme, unless that rules the limit out."""
        question = self._question(limit)
        # A plan within the limit costs no more than the limit for each of its stacks.
        enough = question.served.total * limit
        slack = question.served.total * self._low // deadline.tuning.parts_of_total
        pool = self._within(limit)
        priced = price(question, pool, slack=slack, enough=enough, deadline=deadline)
        if priced.bound > enough:
            return "impossible"
        above = self._pool.where(self._pool.errors > limit)
        plan = dive(question, priced, deadline)
        self._pool = join_rows([above, priced.pool])
        if plan is not None:
            self._take(plan)
            self._last = priced
        return "open" if plan is None else "possible"

    def _within(self, limit: int) -> Candidates:
        return self._pool.where(self._pool.errors <= limit)

    def _close(self, limit: int, deadline: Deadline) -> Settled:
        question = self._question(limit)
        # Where the number of blocks is given, ties have the same number.
        question = replace(question, fewest=question.blocks is None)
        # Elsewhere ties are broken by blocks, and patterns proved nothing that others did not.
        ask = None if question.fewest else self._asking(limit)
        known = self._chosen if self._value <= limit else None
        last = self._last
        # The prices that led to this plan are for a limit that was no tighter.
        if last is not None and last.plan is known and meet(question, last):
            total = close(question, last, deadline, known, ask)
        else:
            total = settle_sum(question, self._within(limit), deadline, known, ask)
        if len(total.chosen):
            self._take(total.chosen)
        return total
