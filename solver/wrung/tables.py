"""The tables that ship with the library: TOML under data/, every figure with its source."""

from importlib.resources import files
from threading import Lock
from typing import Final, Literal, TypeAlias, TypeVar

import msgspec

Checked: TypeAlias = Literal["yes", "partly", "no"]
"""How far figures were compared with print.

``yes`` all of them with a printed handbook or standard; ``partly`` some of them, or all with copies
on the web only; ``no`` they are from memory.
"""

Table = TypeVar("Table")

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
