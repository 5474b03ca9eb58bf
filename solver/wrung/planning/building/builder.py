"""Stacks one after another from what is free on one shelf, each in well under a millisecond.

A stack takes as few of the finest pieces as possible, as they run out first: one of the patterns
that its length asks for, see `fine`. The rest of the length is a whole number of steps, and a table
of the other free pieces says how few of them make it up. Tables are small, as their step is not the
finest, and serve every demand until other pieces are free.

This misses a stack now and then that an exact search for one stack would find in ten times the
time. It is meant for questions where one stack more or less does not matter.
"""

from collections.abc import Iterator
from typing import TypeAlias

from wrung.deadline import Deadline
from wrung.planning.building.coarse_tables import CoarseTables, Mask, as_mask, as_pieces, gauges
from wrung.planning.building.fine import Fine, for_building
from wrung.planning.parts import allowed, built
from wrung.planning.problem import Problem
from wrung.tuning import TUNING, Tuning

_Pattern: TypeAlias = tuple[int, Mask, tuple[tuple[Mask, int], ...]]
"""Its length; what it takes of lengths of which it takes every piece; for each other length the
pieces, and how many of them it takes."""


class Builder:
    """Builds stacks of the problem's demands from free pieces."""

    def __init__(self, problem: Problem, tuning: Tuning = TUNING) -> None:
        self._problem = problem
        self._tuning = tuning
        self._fine = None if problem.signed else for_building(problem, tuning)
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
        if self._tables is None or self._problem.demands[demand].wear:
            return self._exactly(demand, taken, deadline)
        for fine, length in self._free_patterns(demand, taken):
            if deadline.passed:
                break
            stack = self._tables.completed(demand, fine, length, taken)
            if stack and self._serves(demand, stack):
                return stack
        return 0

    def _exactly(self, demand: int, taken: Mask, deadline: Deadline) -> Mask:
        pieces = range(len(self._problem.pieces))
        free = [piece for piece in pieces if not taken >> piece & 1]
        stack = built(self._problem, demand, free, deadline)
        return as_mask(stack or ())

    def _free_patterns(self, demand: int, taken: Mask) -> Iterator[tuple[Mask, int]]:
        """The demand's patterns as free pieces, and their lengths."""
        if self._fine is None:
            yield 0, 0
            return
        if demand not in self._patterns:
            self._patterns[demand] = [*self._patterns_of(demand, self._fine)]
        for length, whole, some in self._patterns[demand]:
            # Most patterns are ruled out by a piece of which there is no other.
            if not whole & taken and (others := _first_of(some, ~taken)) is not None:
                yield whole | others, length

    def _patterns_of(self, demand: int, fine: Fine) -> Iterator[_Pattern]:
        for row in fine.rows(self._problem.demands[demand]).tolist():
            counts: list[int] = fine.uses[row].tolist()
            used = [use for use in zip(self._pieces, counts, strict=True) if use[1]]
            whole = sum(own for own, count in used if own.bit_count() == count)
            some = tuple((own, count) for own, count in used if own.bit_count() > count)
            yield int(fine.sums[row]), whole, some

    def _serves(self, demand: int, stack: Mask) -> bool:
        wanted = self._problem.demands[demand]
        enough = stack.bit_count() <= wanted.most
        free = wanted.most_error is None
        return enough and (free or allowed(self._problem, demand, as_pieces(stack)))


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
