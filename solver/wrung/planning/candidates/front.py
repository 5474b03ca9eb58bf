"""Partial stacks on their way through the levels, as arrays of equal length."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from wrung.planning.candidates.stock import Cells, Ints


class Front(Struct, frozen=True, kw_only=True):
    """Partial stacks on their way through the levels.

    Attributes:
        start: index of the start of each.
        rests: by grid, what its gauge pieces must still make up, in steps of its level.
        room: for each limit, what the rest may cost.
        node: its last piece, -1 where there is none.
    """

    start: Ints
    rests: tuple[Ints, ...]
    room: tuple[Cells, ...]
    node: Ints

    def where(self, rows: Ints) -> "Front":
        """Some rows, by their numbers."""
        # Of short arrays, `take` is three times as fast as an index.
        return Front(
            start=self.start.take(rows),
            rests=tuple(rest.take(rows) for rest in self.rests),
            room=tuple(room.take(rows) for room in self.room),
            node=self.node.take(rows),
        )


def set_at(rests: tuple[Ints, ...], grid: int, rest: Ints) -> tuple[Ints, ...]:
    """The rests with another one for a grid."""
    return (*rests[:grid], rest, *rests[grid + 1 :])


def join_fronts(fronts: Sequence[Front]) -> Front:
    """All rows of all fronts, in order."""
    # Often only one way leads on, and a search for one target spends its time on short copies.
    if len(fronts) == 1:
        return fronts[0]
    return Front(
        start=np.concatenate([front.start for front in fronts]),
        rests=_joined(front.rests for front in fronts),
        room=_joined(front.room for front in fronts),
        node=np.concatenate([front.node for front in fronts]),
    )


def _joined(parts: Iterable[tuple[npt.NDArray[Any], ...]]) -> tuple[npt.NDArray[Any], ...]:
    return tuple(np.concatenate(columns) for columns in zip(*parts, strict=True))
