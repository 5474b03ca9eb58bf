"""Plans put together and changed stack by stack, each stack in well under a millisecond.

A stack takes as few of the finest pieces as possible, as they run out first: one of the patterns
that its length asks for, see `fine`. The rest of the length is a whole number of steps, and a table
of the other free pieces says how few of them make it up. Tables are small, as their step is not the
finest, and serve every demand until other pieces are free.

This misses a stack now and then that an exact search for one stack would find in ten times the
time. It is meant for questions where one stack more or less does not matter.
"""

from collections.abc import Iterator
from typing import TypeAlias

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.building.coarse_tables import CoarseTables, Mask, as_mask, as_pieces, gauges
from wrung.planning.building.fine import Fine, for_building
from wrung.planning.finding import Plan, values_of
from wrung.planning.parts import allowed, built, filled, most_urgent_first, put
from wrung.planning.problem import Demand, Problem, rivals
from wrung.tuning import TUNING, Tuning

Held: TypeAlias = tuple[Mask, ...]
"""A plan: by demand, the pieces of its stack; 0 without one."""

_Pattern: TypeAlias = tuple[int, tuple[tuple[Mask, int], ...]]
"""Its length; of each length that it takes the pieces, and how many of them."""


class Builder:
    """Builds stacks of the problem's demands from free pieces."""

    def __init__(self, problem: Problem, tuning: Tuning = TUNING) -> None:
        self._problem = problem
        self._tuning = tuning
        self._fine = for_building(problem, tuning)
        tables = CoarseTables(problem, self._fine, tuning)
        # Lengths without a common step would fill the memory.
        large = tables.bits > tuning.most_coarse_bits
        self._tables = None if problem.signed or large else tables
        lengths = () if self._fine is None else self._fine.lengths
        self._pieces = [gauges(problem)[length] for length in lengths]
        self._patterns: dict[int, list[_Pattern]] = {}

    @property
    def quick(self) -> bool:
        """Whether it has tables to read stacks from."""
        return self._tables is not None

    @property
    def effort(self) -> int:
        """How much work one stack is; a stack from small tables counts as 1."""
        if self._tables is None:
            return self._tuning.effort_of_exact_stack
        return max(self._tables.bits // self._tuning.bits_an_effort, 1)

    def stack(self, demand: int, taken: Mask, deadline: Deadline) -> Mask:
        """A stack for the demand from pieces that are not taken; 0 if none is found."""
        problem, wanted = self._problem, self._problem.demands[demand]
        if self._tables is None or wanted.wear:
            free = [piece for piece in range(len(problem.pieces)) if not taken >> piece & 1]
            return as_mask(built(problem, demand, free, deadline) or ())
        for fine, length in self._free_patterns(demand, taken):
            if deadline.passed:
                break
            stack = self._tables.completed(demand, fine, length, taken)
            pieces = as_pieces(stack)
            if 0 < len(pieces) <= wanted.most and allowed(problem, demand, pieces):
                return stack
        return 0

    def _free_patterns(self, demand: int, taken: Mask) -> Iterator[tuple[Mask, int]]:
        """The demand's patterns as free pieces, and their lengths."""
        if self._fine is None:
            yield 0, 0
            return
        if demand not in self._patterns:
            self._patterns[demand] = [*self._patterns_of(demand, self._fine)]
        for length, uses in self._patterns[demand]:
            if (pieces := _first_of(uses, ~taken)) is not None:
                yield pieces, length

    def _patterns_of(self, demand: int, fine: Fine) -> Iterator[_Pattern]:
        for row in fine.rows(self._problem.demands[demand]).tolist():
            counts: list[int] = fine.uses[row].tolist()
            uses = zip(self._pieces, counts, strict=True)
            yield int(fine.sums[row]), tuple((own, count) for own, count in uses if count)


def _first_of(uses: tuple[tuple[Mask, int], ...], free: Mask) -> Mask | None:
    """So many of each of these pieces; None where fewer are free."""
    found = 0
    for pieces, count in uses:
        left = pieces & free
        if left.bit_count() < count:
            return None
        for _ in range(count):
            found |= left & -left
            left &= left - 1
    return found


class Stacking:
    """Changes plans of one problem, with a limited effort.

    Each stack that it tries uses some of it, so that it ends at the same point on every machine.
    """

    def __init__(self, problem: Problem, effort: int, tuning: Tuning = TUNING) -> None:
        self._problem = problem
        self._rivals = [sorted(rivals(problem, k)) for k in range(len(problem.demands))]
        self.builder = Builder(problem, tuning)
        self.effort = effort

    def held(self, plan: Plan) -> Held:
        """The plan in terms of the pieces that its stacks hold."""
        return tuple(as_mask(stack or ()) for stack in plan)

    def taken(self, held: Held, demand: int) -> Mask:
        """What is not free beside other stacks while the demand is needed."""
        taken = 0
        for rival in self._rivals[demand]:
            taken |= held[rival]
        if self._problem.exclusive:
            return as_mask(self._problem.taken_by(as_pieces(taken)))
        return taken

    def with_stack(self, held: Held, demand: int, deadline: Deadline) -> Held | None:
        """The plan with the demand served from what is free; None if that is not found."""
        self.effort -= self.builder.effort
        stack = self.builder.stack(demand, self.taken(held, demand), deadline)
        return put(held, demand, stack) if stack else None

    def with_one_more(self, held: Held, demand: int, deadline: Deadline) -> Held | None:
        """The same, if need be by rebuilding another stack."""
        served = self.with_stack(held, demand, deadline) if self.effort > 0 else None
        for rival in self._rivals[demand]:
            if served is not None or self.effort <= 0:
                break
            if held[rival]:
                served = self.with_stack(put(held, rival, 0), demand, deadline)
                served = served and self.with_stack(served, rival, deadline)
        return served

    def with_more(self, held: Held, deadline: Deadline, most: int | None = None) -> Held:
        """The plan with more demands served by rebuilding stacks, if need be ``most`` in all."""
        for demand in most_urgent_first(self._problem):
            done = self.effort <= 0 or deadline.passed or sum(map(bool, held)) == most
            if not held[demand] and not done:
                held = self.with_one_more(held, demand, deadline) or held
        return held


def as_plan(held: Held) -> Plan:
    """The same in terms of stacks."""
    return tuple(as_pieces(mask) or None for mask in held)


def first_plan(problem: Problem, deadline: Deadline, *, quick: bool = False) -> Plan:
    """One stack after another from the pieces left, as far as pieces and time allow.

    A ``quick`` one has no stack where there are no tables to read stacks from. Where errors come
    first, lengths are as near to the targets as soon serves as many.
    """
    plan = _of_any_lengths(problem, deadline, quick=quick)
    wide = any(demand.low < demand.high for demand in problem.demands)
    for part in deadline.tuning.parts_of_tolerances:
        if problem.objective != "least_error" or not wide or deadline.passed:
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


def _of_any_lengths(problem: Problem, deadline: Deadline, *, quick: bool) -> Plan:
    plan: Plan = (None,) * len(problem.demands)
    if deadline.passed or not problem.demands:
        return plan
    stacking = Stacking(problem, deadline.tuning.effort_of_first_plan, deadline.tuning)
    if stacking.builder.quick:
        held = stacking.held(plan)
        for demand in most_urgent_first(problem):
            held = stacking.with_stack(held, demand, deadline) or held
        plan = as_plan(stacking.with_more(held, deadline))
    elif quick:
        return plan
    # An exact search may still build the missing stacks from the pieces left.
    plan = filled(problem, plan, deadline)
    if len(problem.pieces) * len(problem.demands) > deadline.tuning.small_problem:
        return plan
    # Or more of them from the whole shelf: such stacks may take more of the fine pieces.
    anew = filled(problem, (None,) * len(plan), deadline) if None in plan else plan
    return min(plan, anew, key=lambda each: values_of(problem, each))
