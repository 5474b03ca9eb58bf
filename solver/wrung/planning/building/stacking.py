"""Plans put together and changed stack by stack, see `builder`."""

from collections import Counter
from collections.abc import Sequence
from random import Random
from typing import TypeAlias

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.building.builder import Builder
from wrung.planning.building.coarse_tables import Mask, as_mask, as_pieces
from wrung.planning.finding import Plan, values_of
from wrung.planning.parts import filled, most_urgent_first, put
from wrung.planning.problem import Demand, Problem, rivals
from wrung.tuning import TUNING, Tuning

Held: TypeAlias = tuple[Mask, ...]
"""A plan: by demand, the pieces of its stack; 0 without one."""


class Stacking:
    """Changes plans of one problem, with a limited effort.

    Each stack that it tries uses some of it, so that it ends at the same point on every machine.
    """

    def __init__(self, problem: Problem, effort: int, tuning: Tuning = TUNING) -> None:
        self._problem, self._tuning = problem, tuning
        self.rivals = [sorted(rivals(problem, k)) for k in range(len(problem.demands))]
        self.builder = Builder(problem, tuning)
        self.effort = effort

    def _taken(self, held: Held, demand: int) -> Mask:
        """What is not free beside other stacks while the demand is needed."""
        taken = 0
        for rival in self.rivals[demand]:
            taken |= held[rival]
        if self._problem.exclusive:
            return as_mask(self._problem.taken_by(as_pieces(taken)))
        return taken

    def with_stack(
        self, held: Held, demand: int, deadline: Deadline, *, quick: bool = False, left: Mask = 0
    ) -> Held | None:
        """The plan with the demand served from what is free; None if that is not found.

        If ``quick``, only by tables. Some pieces may be ``left`` for others.
        """
        spent = self.builder.spent
        taken = self._taken(held, demand) | left
        stack = self.builder.stack(demand, taken, deadline, quick=quick)
        self.effort -= self.builder.spent - spent
        return put(held, demand, stack) if stack else None

    def with_one_more(self, held: Held, demand: int, deadline: Deadline) -> Held | None:
        """The same, if need be by rebuilding another stack."""
        served = self.with_stack(held, demand, deadline) if self.effort > 0 else None
        for rival in self.rivals[demand]:
            if served is not None or self.effort <= 0:
                break
            if held[rival]:
                served = self.with_stack(put(held, rival, 0), demand, deadline)
                served = served and self.with_stack(served, rival, deadline)
        return served

    def with_more(self, held: Held, deadline: Deadline, most: int | None = None) -> Held:
        """The plan with more demands served, until the effort ends or ``most`` are served.

        Stacks make way for others, and are built again: where as many are served, of no more
        pieces, it goes on from there (ruin and recreate: Schrimpf, Schneider, Stamm-Wilbrandt and
        Dueck, *Journal of Computational Physics* 159, 2000; from memory).
        """
        for demand in most_urgent_first(self._problem):
            done = self.effort <= 0 or deadline.passed or sum(map(bool, held)) == most
            if not held[demand] and not done:
                held = self.with_stack(held, demand, deadline) or held
        able = [k for k in range(len(held)) if self._able(held, k, deadline)]
        # Seeded, so that the same request gets the same answer.
        random = Random(1)  # noqa: S311 - nothing is to be kept secret
        while self.effort > 0 and not deadline.passed and sum(map(bool, held)) != most:
            missing = [demand for demand in able if not held[demand]]
            if not missing:
                break
            random.shuffle(missing)
            held = self._with_room_made(held, missing, random, deadline)
        return held

    def _able(self, held: Held, demand: int, deadline: Deadline) -> bool:
        """Whether it has or could have a stack that takes little time."""
        if self.effort <= 0 or deadline.passed or not self.builder.reads(demand):
            return False
        return bool(held[demand] or self.builder.stack(demand, 0, deadline))

    def _with_room_made(
        self, held: Held, missing: Sequence[int], random: Random, deadline: Deadline
    ) -> Held:
        """The plan, or one that is no worse; room is made for the first that is missing."""
        tuning, near = self._tuning, self.rivals[missing[0]]
        beside = [rival for rival in near if held[rival] and self.builder.reads(rival)]
        out = random.sample(beside, min(tuning.stacks_taken_out, len(beside)))
        found = held
        for demand in out:
            found = put(found, demand, 0)
        order = [*missing[: tuning.stacks_put_in], *out]
        for demand in sorted(order, key=lambda k: self._problem.demands[k].priority_class):
            # An exact search for each that is missing would take most of the time.
            quick = not held[demand] and demand != missing[0]
            found = self.with_stack(found, demand, deadline, quick=quick) or found
        return found if self._worth(found) >= self._worth(held) else held

    def _worth(self, held: Held) -> tuple[int, ...]:
        """How many demands of each class it serves, and of how few pieces."""
        demands = zip(self._problem.demands, held, strict=True)
        own = Counter(demand.priority_class for demand, stack in demands if stack)
        served = (own[number] for number in range(len(self._problem.priorities)))
        return (*served, -sum(map(int.bit_count, held)))


def as_held(plan: Plan) -> Held:
    """The plan in terms of the pieces that its stacks hold."""
    return tuple(as_mask(stack or ()) for stack in plan)


def as_plan(held: Held) -> Plan:
    """The same in terms of stacks."""
    return tuple(as_pieces(mask) or None for mask in held)


def first_plan(
    problem: Problem, deadline: Deadline, begun: Plan | None = None, *, quick: bool = False
) -> Plan:
    """A plan from ``begun`` on, or from none, as far as pieces and time allow.

    A ``quick`` one leaves out exact searches that take long. Where errors come first, lengths are
    as near to the targets as soon serves as many.
    """
    plan = _of_any_lengths(problem, deadline, begun, quick=quick)
    for part in deadline.tuning.parts_of_tolerances:
        if problem.objective != "least_error" or not problem.tolerant or deadline.passed:
            break
        other = _of_any_lengths(nearer(problem, part), deadline, quick=quick)
        if values_of(problem, other) > values_of(problem, plan):
            break
        plan = other
    return plan


def nearer(problem: Problem, part: int) -> Problem:
    """Of each tolerance one part in so many, about the target or the end that is nearest to it."""
    demands: list[Demand] = []
    for demand in problem.demands:
        middle = min(max(demand.target, demand.low), demand.high)
        half = (demand.high - demand.low) // part
        low, high = max(demand.low, middle - half), min(demand.high, middle + half)
        demands.append(replace(demand, low=low, high=high))
    return replace(problem, demands=tuple(demands))


def _of_any_lengths(
    problem: Problem, deadline: Deadline, begun: Plan | None = None, *, quick: bool
) -> Plan:
    plan = begun or (None,) * len(problem.demands)
    if deadline.passed or not problem.demands:
        return plan
    tuning = deadline.tuning
    each = tuning.effort_of_first_plan if begun is None else tuning.effort_to_serve_more
    # An exact search finds a single stack as soon as tables for it are set up.
    if quick or len(plan) > 1:
        stacking = Stacking(problem, each * len(plan), tuning)
        if stacking.builder.quick:
            plan = as_plan(stacking.with_more(as_held(plan), deadline))
        if quick and not stacking.builder.whole:
            return plan
    # An exact search may still build the missing stacks from the pieces left.
    plan = filled(problem, plan, deadline)
    if len(problem.pieces) * len(problem.demands) > tuning.small_problem:
        return plan
    # Or more of them from the whole shelf: such stacks may take more of the fine pieces.
    anew = filled(problem, (None,) * len(plan), deadline) if None in plan else plan
    return min(plan, anew, key=lambda each: values_of(problem, each))
