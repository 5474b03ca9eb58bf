"""One stack at a time, in well under a millisecond, read from tables.

A stack takes as few of the finest pieces as possible, as they run out first: one of the patterns
that its length asks for, see `fine`. The rest of the length is a whole number of steps, and a table
of the other free pieces says how few of them make it up. Tables are small, as their step is not the
finest, and serve every demand until other pieces are free.

This misses a stack now and then that an exact search for one stack would find in ten times the
time. It is meant for questions where one stack more or less does not matter. Of inch and metric
blocks, tables of either unit miss most, so the exact search is asked as well.
"""

from collections.abc import Iterator, Sequence
from itertools import chain
from typing import TypeAlias

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.building.coarse_tables import CoarseTables, Mask, as_mask, as_pieces, gauges
from wrung.planning.building.fine import Fine, for_building
from wrung.planning.parts import allowed, built
from wrung.planning.problem import Problem
from wrung.tuning import TUNING, Tuning

_Pattern: TypeAlias = tuple[int, tuple[tuple[Mask, int], ...]]
"""Its length; of each length that it takes the pieces, and how many of them."""


class Builder:
    """Builds stacks of the problem's demands from free pieces.

    Attributes:
        whole: whether there are tables of all pieces, or of those of each unit; an exact search is
            quick then, too.
        spent: how much work all stacks were; one from small tables counts as 1.
    """

    def __init__(self, problem: Problem, tuning: Tuning = TUNING) -> None:
        self._problem = problem
        self._tuning = tuning
        every = range(len(problem.pieces))
        parts: Sequence[Sequence[int]] = [] if problem.signed else [every]
        self._sources = _sources(problem, parts, tuning)
        units = [own for own in problem.by_unit(every) if own]
        # Inch and metric lengths have no common step but a very small one; by themselves they have.
        if parts and not self._sources and len(units) > 1:
            parts, self._sources = units, _sources(problem, units, tuning)
        self.whole = bool(self._sources) and len(self._sources) == len(parts)
        self._mixed = self.whole and len(parts) > 1
        self.spent = 0

    @property
    def quick(self) -> bool:
        """Whether it has tables to read stacks from."""
        return bool(self._sources)

    def reads(self, demand: int) -> bool:
        """Whether stacks for the demand are read from tables, which have no wear blocks."""
        return self.quick and not self._problem.demands[demand].wear

    def stack(self, demand: int, taken: Mask, deadline: Deadline, *, quick: bool = False) -> Mask:
        """A stack for the demand from pieces that are not taken; 0 if none is found.

        A ``quick`` one is only read from tables.
        """
        problem, wanted = self._problem, self._problem.demands[demand]
        read, tuning = self.reads(demand), self._tuning
        if read:
            bits = sum(each.bits for each in self._sources)
            self.spent += max(bits // tuning.bits_an_effort, 1)
        stacks = (each.stacks(demand, taken, deadline) for each in self._sources if read)
        for stack in chain.from_iterable(stacks):
            pieces = as_pieces(stack)
            if 0 < len(pieces) <= wanted.most and allowed(problem, demand, pieces):
                return stack
        if quick or (read and not self._mixed):
            return 0
        self.spent += tuning.effort_of_exact_stack
        free = [piece for piece in range(len(problem.pieces)) if not taken >> piece & 1]
        return as_mask(built(problem, demand, free, deadline) or ())


class _Source:
    """Tables of some of the pieces, and the patterns of their fine ones.

    Attributes:
        bits: of its tables.
    """

    def __init__(self, problem: Problem, own: Sequence[int], tuning: Tuning) -> None:
        part, mask = problem, as_mask(own)
        # What is known of all pieces is kept with them.
        if len(own) < len(problem.pieces):
            part = replace(problem, pieces=tuple(problem.pieces[piece] for piece in own))
        self._fine = for_building(part, tuning)
        there = {length: pieces & mask for length, pieces in gauges(problem).items()}
        self._tables = CoarseTables(problem, there, self._fine, tuning)
        self.bits = self._tables.bits
        lengths = () if self._fine is None else self._fine.lengths
        self._demands = problem.demands
        self._pieces = [there[length] for length in lengths]
        self._patterns: dict[int, list[_Pattern]] = {}

    def stacks(self, demand: int, taken: Mask, deadline: Deadline) -> Iterator[Mask]:
        """One for each pattern of the demand that is free; 0 where nothing completes it."""
        for fine, length in self._free_patterns(demand, taken):
            # A table of several sets takes some milliseconds.
            if deadline.passed:
                return
            yield self._tables.completed(demand, fine, length, taken)

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
        for row in fine.rows(self._demands[demand]).tolist():
            counts: list[int] = fine.uses[row].tolist()
            uses = zip(self._pieces, counts, strict=True)
            yield int(fine.sums[row]), tuple((own, count) for own, count in uses if count)


def _sources(problem: Problem, parts: Sequence[Sequence[int]], tuning: Tuning) -> list[_Source]:
    """Of these parts of the shelf; lengths without a common step would fill the memory."""
    sources = (_Source(problem, own, tuning) for own in parts)
    return [each for each in sources if each.bits <= tuning.most_coarse_bits]


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
