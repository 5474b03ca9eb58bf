"""One stack at a time, in well under a millisecond, read from tables.

A stack takes as few of the finest pieces as possible, as they run out first: one of the patterns
that its length asks for, see `fine`. The rest of the length is a whole number of steps, and a table
of the other free pieces says how few of them make it up. Tables are small, as their step is not the
finest, and serve every demand until other pieces are free.

This misses a stack now and then that an exact search for one stack would find in ten times the
time. It is meant for questions where one stack more or less does not matter. Of inch and metric
blocks, tables of either unit miss most, so the exact search is asked as well. Wear blocks have few
lengths, so each choice of them is tried, with what is left of the length.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import combinations_with_replacement
from typing import TypeAlias

from msgspec.structs import replace

from wrung.deadline import Deadline
from wrung.planning.building.coarse_tables import (
    CoarseTables,
    Mask,
    as_mask,
    as_pieces,
    by_length,
)
from wrung.planning.building.fine import Fine, for_building
from wrung.planning.lone import no_shorter
from wrung.planning.parts import allowed, built
from wrung.planning.problem import Demand, Problem
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
        self._worn = by_length(problem, wear=True)
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
        """Whether stacks for the demand are read from tables."""
        choices = len(self._worn) ** self._problem.demands[demand].wear
        return self.quick and choices <= self._tuning.most_choices_of_ends

    def stack(self, demand: int, taken: Mask, deadline: Deadline, *, quick: bool = False) -> Mask:
        """A stack for the demand from pieces that are not taken; 0 if none is found.

        A ``quick`` one is only read from tables.
        """
        problem, wanted = self._problem, self._problem.demands[demand]
        read, tuning = self.reads(demand), self._tuning
        if read:
            bits = sum(each.bits for each in self._sources)
            self.spent += max(bits // tuning.bits_an_effort, 1)
        for stack in self._read(wanted, taken, deadline) if read else ():
            pieces = as_pieces(stack)
            if 0 < len(pieces) <= wanted.most and allowed(problem, demand, pieces):
                return stack
        if quick or (read and not self._mixed):
            return 0
        self.spent += tuning.effort_of_exact_stack
        free = [piece for piece in range(len(problem.pieces)) if not taken >> piece & 1]
        return as_mask(built(problem, demand, free, deadline) or ())

    def _read(self, demand: Demand, taken: Mask, deadline: Deadline) -> Iterator[Mask]:
        """Stacks from tables, 0 among them; not all of them serve the demand."""
        for ends, rest in self._beside_ends(no_shorter(demand), taken):
            for source in self._sources:
                yield from source.stacks(rest, ends, taken, deadline)

    def _beside_ends(self, demand: Demand, taken: Mask) -> Iterator[tuple[Mask, Demand]]:
        """Free wear blocks for the demand, and what it wants beside them."""
        for ends in combinations_with_replacement(self._worn, demand.wear):
            uses = tuple((self._worn[length], count) for length, count in Counter(ends).items())
            if (pieces := _first_of(uses, ~taken)) is not None:
                low, high = demand.low - sum(ends), demand.high - sum(ends)
                yield pieces, replace(demand, low=low, high=high, most=demand.most - demand.wear)


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
        there = {length: pieces & mask for length, pieces in by_length(problem).items()}
        self._tables = CoarseTables(problem, there, self._fine, tuning)
        self.bits = self._tables.bits
        lengths = () if self._fine is None else self._fine.lengths
        self._pieces = [there[length] for length in lengths]
        # By the window and the limit of pieces, on which alone they depend.
        self._patterns: dict[tuple[int, int, int], list[_Pattern]] = {}

    def stacks(self, demand: Demand, ends: Mask, taken: Mask, deadline: Deadline) -> Iterator[Mask]:
        """One with these ends for each pattern that is free; 0 where nothing completes it.

        The demand is what is wanted beside the ends.
        """
        for fine, length in self._free_patterns(demand, taken):
            # A table of several sets takes some milliseconds.
            if deadline.passed:
                return
            low, high = demand.low - length, demand.high - length
            yield self._tables.completed(low, high, ends | fine, taken)

    def _free_patterns(self, demand: Demand, taken: Mask) -> Iterator[tuple[Mask, int]]:
        """The demand's patterns as free pieces, and their lengths."""
        if self._fine is None:
            yield 0, 0
            return
        key = demand.low, demand.high, demand.most
        if key not in self._patterns:
            self._patterns[key] = [*self._patterns_of(demand, self._fine)]
        for length, uses in self._patterns[key]:
            if (pieces := _first_of(uses, ~taken)) is not None:
                yield pieces, length

    def _patterns_of(self, demand: Demand, fine: Fine) -> Iterator[_Pattern]:
        for row in fine.rows(demand).tolist():
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
