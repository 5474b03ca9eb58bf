"""From a bound and prices to a best plan: closing the gap between bound and plan."""

from typing import Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.candidates.stock import NEVER, Ints, join_rows
from wrung.planning.candidates.walk import (
    Candidates,
    distinct,
    no_candidates,
)
from wrung.planning.objectives.fix_and_optimise import costing_less
from wrung.planning.objectives.nearest import nearest, nearest_of
from wrung.planning.pricing.diving import dive
from wrung.planning.pricing.prices import Priced, room
from wrung.planning.pricing.question import Question
from wrung.planning.selection.choice import Selection
from wrung.planning.selection.narrowing import least_choice

End: TypeAlias = Literal["settled", "impossible", "open"]


class Settled(Struct, frozen=True, kw_only=True):
    """The outcome of a stage.

    Attributes:
        end: ``settled`` the value is proven least; ``impossible`` no plan serves as many demands;
            ``open`` neither was shown.
        value: cost of the best plan seen, `NEVER` if none was.
        bound: no plan costs less.
        chosen: that plan; empty if none was seen.
        priced: the prices that proved it, if any did.
    """

    end: End
    value: int
    bound: int
    chosen: Candidates
    priced: Priced | None = None


def impossible() -> Settled:
    """No plan serves as many."""
    nothing = no_candidates()
    return Settled(end="impossible", value=NEVER, bound=NEVER, chosen=nothing)


class Closing:
    """Closes the gap between the bound of the prices and the best plan.

    All candidates of plans up to a limit are enumerated and chosen from: either the best of them
    is the best of all, or no plan is within the limit. The limit begins at the bound; if no plan
    is within what the dearest would cost, there is none at all. It begins with what is ``known``;
    so many sizes of choices were ``tried`` for a plan before, and rounding with them.
    """

    def __init__(  # noqa: PLR0913 - a question, and how far it was answered before
        self,
        question: Question,
        priced: Priced,
        dearest: int,
        deadline: Deadline,
        known: Settled | None = None,
        *,
        tried: int = 0,
    ) -> None:
        self._question = question
        self._priced = priced
        self._dearest = dearest
        self._deadline = deadline
        self._search = question.search(priced.prices)
        self._bound = question.up(priced.bound)
        self._value = NEVER
        self._chosen = no_candidates()
        if priced.plan is not None:
            self._better(priced.plan)
        if known is not None:
            self._bound = max(self._bound, known.bound)
            self._better(known.chosen)
        # Fractions of scarce pieces say too little to round, unless starts spell them out; for
        # patterns at one time, a choice does better even so.
        bench = question.bench
        timed = bench.spelt_out and len(bench.cliques_of) > 1
        self._rounds = not self._whole_blocks or timed
        self._thorough = self._whole_blocks and not question.quick
        self._tried, each = tried, deadline.tuning.nearest_each
        # A choice among more comes to other plans.
        once = question.quick or self._rounds
        self._sizes = iter(each[:1] if once else each[tried:])
        self._last = -1
        self._many = deadline.tuning.many_within_gap
        self._too_far = NEVER

    def run(self) -> Settled:
        """Until they meet, or the time is up, or there is too much to choose from."""
        # Blocks leave few values to try; errors leave far too many to go up one by one.
        step = 0 if self._whole_blocks else self._bound // self._deadline.tuning.parts_a_step
        end: End | None = None
        while end is None and not self._deadline.passed and not self._met():
            limit, offered = self._offered(step)
            if self._value >= NEVER and (offered is None or len(offered) > self._many):
                self._look_for_a_plan(offered)
            if self._met():
                break
            if offered is not None:
                # Since the limit was set, a plan may have been found.
                end = self._try(offered, min(limit, self._highest()))
                step += 0 if self._whole_blocks else 2 * step + self._question.grain
            elif step > self._question.grain:
                # A smaller step up may still leave few enough candidates.
                step //= 2
            else:
                end = "open"
        if end == "impossible":
            return impossible()
        while end != "settled" and self._look_for_a_plan(None):
            pass
        return self._end("settled" if end == "settled" or self._met() else "open")

    def _try(self, offered: Candidates, limit: int) -> End | None:
        """Choose among all candidates within a limit; None if a higher one is to be tried."""
        selection = self._take(offered, limit)
        if selection.verdict not in ("best", "impossible"):
            # With a plan, fewer are within the gap, and all of the time is left for them.
            blocks_soon = self._question.quick and self._whole_blocks
            return None if not blocks_soon and self._look_for_a_plan(offered) else "open"
        if selection.verdict == "impossible" and limit >= self._dearest:
            return "impossible"
        if selection.verdict == "best" and selection.value <= limit:
            return "settled"
        # Every plan up to the limit was on offer, so all others cost more.
        self._bound = limit + self._question.grain
        return None

    @property
    def _whole_blocks(self) -> bool:
        return self._question.grain >= self._question.goal.blocks > 0

    def _met(self) -> bool:
        # A plan that meets the bound is already best; only ties need a choice.
        return self._value <= self._bound and not self._question.fewest

    def _offered(self, step: int) -> tuple[int, Candidates | None]:
        """A limit and all candidates of plans within it: of all better plans, if they are few."""
        better = self._highest()
        if self._value < NEVER and better > self._bound + step:
            # Only looked at as far as few would take: many are not chosen from at once anyway.
            each = self._deadline.tuning.partial_a_candidate
            offered = self._within(better, each * self._many)
            if offered is not None and len(offered) <= self._many:
                return better, offered
        # Costs are multiples of the grain: the bound above a limit between two would pass the next.
        limit = min(better, self._bound + step // self._question.grain * self._question.grain)
        offered = self._within(limit)
        return (self._dearest if self._are_all(offered) else limit), offered

    def _are_all(self, offered: Candidates | None) -> bool:
        """Whether there are no candidates but those offered."""
        if offered is None or self._value < NEVER:
            return False
        # That a higher limit let no more in is a hint; then all are asked for.
        hint, self._last = len(offered) == self._last, len(offered)
        every = self._within(self._dearest) if hint else None
        return every is not None and len(every) == len(offered)

    def _highest(self) -> int:
        """Plans that cost more than this are of no use; among ties one may have fewer blocks."""
        return self._value - (0 if self._question.fewest else self._question.grain)

    def _look_for_a_plan(self, offered: Candidates | None) -> bool:
        """Look again, with more effort; False once there is no more use in that.

        Where all within some limit are on offer, among these.
        """
        each = next(self._sizes, None)
        if each is None or self._met() or self._deadline.passed:
            return False
        before, anew = self._value, self._value < NEVER and self._thorough
        few = self._nearest(each, offered) if anew or not self._rounds else no_candidates()
        if anew:
            self._choose_anew(few)
        if not self._met():
            self._round() if self._rounds else self._choose_near(few)
        return not self._rounds or self._value < before

    def _round(self) -> None:
        # With the same prices, rounding comes to the same plan again.
        plan = None if self._tried else dive(self._question, self._priced, self._deadline)
        if plan is not None:
            self._better(plan)

    def _choose_anew(self, few: Candidates) -> None:
        """A better plan: a few of its stacks at a time are chosen anew among these."""
        part = self._deadline.share(self._deadline.tuning.share_for_a_plan)
        question, priced, known = self._question, self._priced, self._chosen
        self._better(costing_less(question, priced, few, known, self._bound, part))

    def _choose_near(self, near: Candidates) -> None:
        """The best choice of these and of the stacks of the plan."""
        few = distinct(join_rows([self._chosen, near]))
        tuning, costs = self._deadline.tuning, self._question.goal.costs(few)
        choice = self._question.choice(few)
        if self._far():
            choice.begin_with(len(self._chosen))
        # Proven already, so that no search has to find it out again.
        choice.limit_sum(costs, min(self._highest(), self._dearest), least=self._bound)
        quick, first = self._question.quick, self._question.first_look
        effort = tuning.effort_for_a_quick_plan if quick else tuning.effort_for_a_plan
        longer = quick and not first
        part = self._deadline.share(
            tuning.share_for_a_quick_plan if longer else tuning.share_for_a_plan
        )
        found = choice.solve(
            "least_sum", costs, part, effort=effort, presolve=True, by_programme=True
        )
        self._know(few, costs, found)

    def _far(self) -> bool:
        """Whether a plan is known and there is room for many better ones."""
        many = self._question.served.total // self._deadline.tuning.parts_of_stacks
        return NEVER > self._value > self._bound + many * self._question.grain

    def _nearest(self, each: int, offered: Candidates | None) -> Candidates:
        if offered is not None:
            return nearest_of(self._search, self._priced, offered, each)
        return nearest(self._question, self._search, self._priced, self._bound, each)

    def _better(self, plan: Candidates) -> None:
        value = int(self._question.goal.costs(plan).sum())
        if len(plan) and value < self._value:
            self._value, self._chosen = value, plan

    def _take(self, offered: Candidates, limit: int) -> Selection:
        """The best choice; ``impossible`` where none costs as little as the limit."""
        question, costs = self._question, self._question.goal.costs(offered)
        grains, ties = costs // question.grain, offered.counts if question.fewest else None
        # Blocks only break ties: all blocks of a plan together weigh less than one grain.
        aims = grains if ties is None else grains * self._weight() + ties
        effort = self._deadline.tuning.effort_for_a_quick_choice
        soon = self._know(
            offered,
            costs,
            question.choice(offered).solve("least_sum", aims, self._until(), effort=effort),
        )
        done = soon.verdict in ("best", "impossible") or self._deadline.passed
        if question.quick or done or self._met():
            return soon
        most = limit // question.grain
        choice = least_choice(
            question.bench,
            offered,
            question.served,
            grains,
            least=self._bound // question.grain,
            most=most,
            fewest=question.fewest,
            blocks=question.blocks,
            deadline=self._until(),
        )
        # Nothing is known beyond what was on offer, and the search may not even have got that far.
        self._bound = max(self._bound, min(choice.bound, most + 1) * question.grain)
        return self._know(offered, costs, choice)

    def _until(self) -> Deadline:
        # While no plan is known, other candidates still have to be looked at.
        known = self._value < NEVER
        return (
            self._deadline
            if known
            else self._deadline.share(self._deadline.tuning.share_for_a_plan)
        )

    def _know(self, offered: Candidates, costs: Ints, selection: Selection) -> Selection:
        value = int(costs[selection.rows].sum())
        # Of plans that cost as much, one that was chosen may have fewer blocks.
        if selection.verdict in ("best", "found") and value <= self._value:
            self._value, self._chosen = value, offered.where(selection.rows)
        return replace(selection, value=value)

    def _weight(self) -> int:
        """More than all the blocks of a plan."""
        return len(self._question.bench.problem.pieces) * self._question.served.total + 1

    def _within(self, limit: int, most_partial: int | None = None) -> Candidates | None:
        if limit >= self._too_far:
            return None
        limits = room(self._priced, self._question.served, limit)
        found = self._search.within(limits, most_partial)
        tuning, first = self._deadline.tuning, self._question.first_look
        most = tuning.most_offered_quick if first else tuning.most_offered
        if found is None or len(found) > most:
            if most_partial is None:
                self._too_far = limit
            return None
        return found

    def _end(self, end: End) -> Settled:
        return Settled(
            end=end,
            value=self._value,
            bound=self._value if end == "settled" else self._bound,
            chosen=self._chosen,
            priced=self._priced,
        )
