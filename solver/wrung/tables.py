"""The tables that ship with the library: TOML under data/, every figure with its source."""

from bisect import bisect_left
from importlib.resources import files
from threading import Lock
from typing import Final, Generic, Literal, TypeAlias, TypeVar

import msgspec
from msgspec import Struct

Checked: TypeAlias = Literal["yes", "partly", "no"]
"""How far figures were compared with print.

``yes`` all of them with a printed handbook or standard; ``partly`` some of them, or all with copies
on the web only; ``no`` they are from memory.
"""

Table = TypeVar("Table")
Value_co = TypeVar("Value_co", covariant=True)

_ONE_AT_A_TIME: Final = Lock()
"""msgspec crashes the process where two threads read into a new type at one time."""


def load(name: str, shape: type[Table]) -> Table:
    """Read ``data/name``.

    Raises:
        msgspec.ValidationError: the table is not of that shape or contradicts itself, which is a
            fault of this library, not of its caller.
    """
    text = files("wrung").joinpath("data", name).read_text(encoding="utf-8")
    with _ONE_AT_A_TIME:
        return msgspec.toml.decode(text, type=shape, strict=True)


class Sourced(Struct, frozen=True, kw_only=True):
    """Something of a table.

    Attributes:
        source: where its figures come from.
        checked: how far they were compared with print, see `Checked`.
    """

    source: str
    checked: Checked


class ByRange(Struct, Generic[Value_co], frozen=True, kw_only=True):
    """Values by range of sizes, as standards print them: over one edge, up to the next included.

    Attributes:
        edges: upper ends of the ranges, quanta.
        values: one a range, None where the table gives none; it may end before the ranges do.
    """

    edges: tuple[int, ...]
    values: tuple[Value_co | None, ...]

    def at(self, size: int) -> Value_co | None:
        """The value for a size; None if there is none."""
        place = bisect_left(self.edges, size)
        return self.values[place] if place < len(self.values) else None

    @property
    def span(self) -> tuple[int, int]:
        """The sizes that have a value: over the first, up to and including the second."""
        first = next(place for place, value in enumerate(self.values) if value is not None)
        return self.edges[first - 1] if first else 0, self.edges[len(self.values) - 1]
