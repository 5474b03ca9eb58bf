"""Columns that leave too little choice beside them are ruled out, each by what conflicts with it.

A choice that holds a column costs at least the least of every other demand that fits beside it,
and the price of each row that it and all that fits leave unused.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from wrung.planning.candidates.stock import Bools, Ints
from wrung.planning.selection.node import PricedNode

_NOT: Final = 1 << 50
"""More than any excess."""
_WORD: Final = 8
"""Bytes compared at once."""


def fitting(said: PricedNode, limit: int) -> PricedNode | None:
    """The node with only those columns that each fit into some choice within the limit."""
    node = said.node
    single = node.left == 1
    users = node.table[single] > 0
    clash = _clashes(users) | (node.demands[:, None] == node.demands)
    np.fill_diagonal(clash, val=False)
    beside = np.where(clash, _NOT, said.above)
    above = np.minimum.reduceat(beside, node.first(), axis=1).sum(1)
    above += _unused(clash, users, said.prices[single])
    kept = said.where(above <= limit - said.bound)
    return kept.within(limit) if kept is not None else None


def _clashes(users: Bools) -> Bools:
    """For each pair of columns, whether both use a row of capacity one."""
    words = np.packbits(users, axis=0)
    words = np.pad(words, ((0, -len(words) % _WORD), (0, 0)))
    columns = np.ascontiguousarray(words.T).view(np.uint64)
    both: npt.NDArray[np.uint64] = columns[:, None] & columns
    clash: Bools = (both != 0).any(axis=2)
    return clash


def _unused(clash: Bools, users: Bools, prices: Ints) -> Ints:
    """By column, the prices of those rows all of whose users conflict with it."""
    row, column = np.nonzero(users & (prices > 0)[:, None])
    if not len(row):
        return np.zeros(len(clash), np.int64)
    rows, first = np.unique(row, return_index=True)
    return np.logical_and.reduceat(clash[:, column], first, axis=1) @ prices[rows]
