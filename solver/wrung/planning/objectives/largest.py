"""The least largest error: can as many demands be served with no error above a limit?"""

from collections.abc import Callable
from typing import Final

from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.walk import Candidates, join_candidates
from wrung.planning.deadline import Deadline
from wrung.planning.objectives.stages import Question, Settled, settle_sum
from wrung.planning.pricing.prices import price

_FIRST: Final = 8
"""The first limit is this part above what no plan is below: near many a least largest error."""
_STEP: Final = 64
"""The first step from there, likewise."""


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
        question: asks for plans with no error above a limit.
        pool: candidates to begin with.
        known: a plan that serves as many.
        least: no plan's largest error is less.
        grain: all errors are multiples of it.
    """

    def __init__(
        self,
        *,
        question: Callable[[int], Question],
        pool: Candidates,
        known: Candidates,
        least: int,
        grain: int,
    ) -> None:
        self._question = question
        self._pool = join_candidates([pool, known])
        self._chosen = known
        self._value = int(known.errors.max(initial=0))
        self._grain = grain
        self._low = least

    def run(self, deadline: Deadline) -> Largest:
        """Until the least largest error and the total are settled, or the time is up."""
        total, guess = None, self._low + self._low // _FIRST
        while not deadline.passed and self._rule_out(guess, deadline):
            total = self._close(deadline)
            if total.end != "impossible":
                break
            # Errors are multiples of the grain, so none lies between.
            self._low = guess = self._low + self._grain
        return Largest(
            value=self._value,
            bound=min(self._low, self._value),
            chosen=self._chosen,
            total=total,
        )

    def _rule_out(self, guess: int, deadline: Deadline) -> bool:
        """Raise the bound to the least limit that no linear programme rules out; if in time."""
        high, step, seen = self._value, self._low // _STEP, set[bool]()
        while self._low < high and not deadline.passed:
            limit = self._on_grain(min(max(guess, self._low), high - self._grain))
            ruled_out = self._ruled_out(limit, deadline)
            seen.add(ruled_out)
            if ruled_out:
                self._low = limit + self._grain
            else:
                high = limit
            # In steps that grow, until the limit sought is known to lie between two.
            guess = limit + step if ruled_out else limit - step
            guess = guess if len(seen) == 1 else (self._low + high) // 2
            step *= 2
        return self._low >= high

    def _on_grain(self, limit: int) -> int:
        return self._low + (limit - self._low) // self._grain * self._grain

    def _ruled_out(self, limit: int, deadline: Deadline) -> bool:
        question = self._question(limit)
        # A plan within the limit costs no more than the limit for each of its stacks.
        dearest = question.served * limit
        priced = price(
            question.bench,
            question.goal,
            caps=question.caps,
            served=question.served,
            pool=self._within(limit),
            window=question.window,
            slack=question.served * self._low // 50,
            enough=dearest,
            deadline=deadline,
        )
        above = self._pool.where(self._pool.errors > limit)
        self._pool = join_candidates([above, priced.pool])
        return priced.bound > dearest

    def _within(self, limit: int) -> Candidates:
        return self._pool.where(self._pool.errors <= limit)

    def _close(self, deadline: Deadline) -> Settled:
        question = replace(self._question(self._low), fewest=True)
        total = settle_sum(question, self._within(self._low), deadline)
        if len(total.chosen):
            self._chosen = total.chosen
            self._value = int(total.chosen.errors.max())
        return total
