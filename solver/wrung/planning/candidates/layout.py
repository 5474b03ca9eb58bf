"""The order in which stacks are put together: grids of lengths, and levels within each.

The gauge pieces are laid out in *levels* of ever coarser steps, the way a stack is chosen by hand
from the last digit up: once the pieces of a level are passed, what remains must be a multiple of
the next level's step. A table therefore needs only the multiples of its level's step, which makes
the fine levels few pieces wide and the coarse ones few lengths long.

Inch and metric lengths have no step in common but a very small one. Such pieces are parted into
*grids*, each with a step and levels of its own, and a length is the sum of one length of each grid.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import TypeAlias

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from wrung.planning.candidates.stock import Bools, Ints
from wrung.tuning import TUNING, Tuning

Reach: TypeAlias = tuple[int, ...]
"""By grid, the longest sum that is asked for, in steps of the grid."""


class Level(Struct, frozen=True, kw_only=True):
    """Items ``first`` to ``last - 1`` of a layout; every one is a multiple of ``step``."""

    grid: int
    step: int
    """In steps of its grid."""
    first: int
    last: int
    lengths: Ints
    """Their lengths in units of ``step``."""
    follows: Bools
    """``follows[i, p]``: whether item i may come next where all items before p are passed.

    The row after the last item stands for no further item of the level.
    """


class Layout(Struct, frozen=True, kw_only=True):
    """The gauge pieces as items in the order in which a stack is put together.

    Attributes:
        kinds: kind of each item in the stock; a kind of capacity n stands there n times in a row.
        levels: those of all grids, finest first.
        steps: of each grid, quanta.
        whole: by grid, the sum of all pieces, in its steps.
        key: the same for layouts that are the same but for the length of their steps.
    """

    kinds: Ints
    levels: tuple[Level, ...]
    steps: tuple[int, ...]
    whole: Reach
    key: bytes

    def cells(self, reach: Reach) -> int:
        """Size of a table for lengths up to ``reach``."""
        return sum((v.last - v.first + 1) * (reach[v.grid] // v.step + 1) for v in self.levels)

    def reach(self, longest: int) -> Reach:
        """By grid, the longest sum of its pieces that a stack of so many quanta may hold."""
        return tuple(
            min(own, max(longest, 0) // step)
            for own, step in zip(self.whole, self.steps, strict=True)
        )

    def following(self, levels: int) -> tuple[int, ...] | None:
        """By grid, the step of its first level after so many; None where a grid has none left."""
        steps = {level.grid: level.step for level in reversed(self.levels[levels:])}
        grids = range(len(self.steps))
        return tuple(steps[grid] for grid in grids) if len(steps) == len(grids) else None

    def beyond(self, levels: int) -> "Layout":
        """The levels after the given number, in units of the step of the next one of their grid."""
        ratios, passed = self.following(levels), self.levels[levels].first
        if ratios is None:
            raise ValueError("a grid has no level left")
        further = tuple(
            replace(v, step=v.step // ratios[v.grid], first=v.first - passed, last=v.last - passed)
            for v in self.levels[levels:]
        )
        steps = tuple(step * ratio for step, ratio in zip(self.steps, ratios, strict=True))
        return _layout(self.kinds[passed:], further, steps)


def _layout(kinds: Ints, levels: tuple[Level, ...], steps: tuple[int, ...]) -> Layout:
    # The key is made once, as every table that is asked for is looked up by it.
    lengths = [level.lengths * level.step for level in levels]
    edges = np.array([(level.grid, level.step, level.last) for level in levels], np.int64)
    key = b"".join(part.tobytes() for part in (kinds, *lengths, edges))
    whole = [0] * len(steps)
    for level in levels:
        whole[level.grid] += int(level.lengths.sum()) * level.step
    return Layout(kinds=kinds, levels=levels, steps=steps, whole=tuple(whole), key=key)


@lru_cache(maxsize=64)
def laid_out(
    length_bytes: bytes, copy_bytes: bytes, grid_bytes: bytes, tuning: Tuning = TUNING
) -> Layout:
    """Pieces by kind: their lengths, how many there are, and their grids, as 64-bit numbers."""
    lengths = np.frombuffer(length_bytes, dtype=np.int64)
    copies = np.frombuffer(copy_bytes, dtype=np.int64)
    grids = np.frombuffer(grid_bytes, dtype=np.int64)
    steps = steps_of(lengths, grids)
    units = lengths // np.array(steps, np.int64)[grids]
    chains = [
        _level_steps(units[grids == g], copies[grids == g], tuning) for g in range(len(steps))
    ]
    ranked = sorted((steps[g] * step, g, step) for g, chain in enumerate(chains) for step in chain)
    level_of = np.zeros(len(lengths), dtype=np.int64)
    for level, (_, grid, step) in enumerate(ranked):
        # Steps rise, so each length ends up in the coarsest level whose step divides it.
        level_of[(grids == grid) & (units % step == 0)] = level
    order = np.lexsort((-units, level_of))
    kinds = np.repeat(order, copies[order])
    edges = np.searchsorted(level_of[kinds], np.arange(len(ranked) + 1)).tolist()
    levels = tuple(
        _level(kinds[first:last], units, grid, step, first)
        for (_, grid, step), first, last in zip(ranked, edges[:-1], edges[1:], strict=True)
    )
    return _layout(kinds, levels, steps)


def steps_of(lengths: Ints, grids: Ints) -> tuple[int, ...]:
    """Of each grid the greatest common divisor of its lengths."""
    return tuple(
        int(np.gcd.reduce(lengths[grids == grid])) for grid in range(int(grids.max(initial=0)) + 1)
    )


@lru_cache(maxsize=64)
def common_steps(length_bytes: bytes, tuning: Tuning) -> Ints:
    """The greatest common divisors of any two lengths, or a length itself; the smallest first.

    Of very many lengths only every so many-th is compared.
    """
    lengths = np.unique(np.frombuffer(length_bytes, dtype=np.int64))
    lengths = lengths[:: -(-len(lengths) // tuning.most_lengths_compared)]
    one, other = np.triu_indices(len(lengths))
    return np.unique(np.gcd(lengths[one], lengths[other]))[: tuning.most_steps_tried]


def _level(own: Ints, units: Ints, grid: int, step: int, first: int) -> Level:
    # In order, and of equal items the first ones first, so that each stack comes up only once.
    items, places = np.arange(len(own) + 1)[:, None], np.arange(len(own) + 1)
    unlike = np.append(np.diff(own, prepend=-1) != 0, True)[:, None]
    return Level(
        grid=grid,
        step=step,
        first=first,
        last=first + len(own),
        lengths=units[own] // step,
        follows=(items == places) | ((items > places) & unlike),
    )


def _level_steps(lengths: Ints, copies: Ints, tuning: Tuning) -> Sequence[int]:
    """The chain of steps, each dividing the next, that makes the smallest table."""
    tried = common_steps(lengths.tobytes(), tuning)
    pieces = (lengths % tried[:, None] == 0) @ copies
    # A level of few pieces saves next to nothing.
    some = pieces * tuning.pieces_a_level >= copies.sum()
    items: dict[int, int] = dict(zip(tried[some].tolist(), pieces[some].tolist(), strict=True))
    # The chain begins at 1, which divides every length.
    items.setdefault(1, int(copies.sum()))
    best: dict[int, tuple[float, int]] = {}
    # Coarsest first: the best chain from a step needs those of its multiples.
    for step in sorted(items, reverse=True):
        # A 0 stands for no coarser level, as no step is 0.
        choices = [(items[step] / step, 0)]
        choices += [
            (
                (items[step] - items[coarser]) / step + best[coarser][0] + tuning.cost_of_a_level,
                coarser,
            )
            for coarser in best
            if coarser % step == 0
        ]
        best[step] = min(choices)
    chain = [1]
    while best[chain[-1]][1]:
        chain.append(best[chain[-1]][1])
    return chain
