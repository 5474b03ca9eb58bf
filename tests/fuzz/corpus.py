"""Inputs that reached something new, kept in a file for each decoder, one a line in base64."""

import base64
from collections.abc import Iterable
from itertools import accumulate
from pathlib import Path
from typing import Final

_KEPT: Final = Path(__file__).parent / "corpus"
_MOST: Final = 100_000
"""Bytes of a file."""


def kept(name: str) -> tuple[bytes, ...]:
    """What is kept for a decoder."""
    path = _KEPT / f"{name}.txt"
    lines = path.read_text(encoding="ascii").split() if path.exists() else []
    return tuple(base64.b64decode(line) for line in lines)


def keep(name: str, inputs: Iterable[bytes]) -> None:
    """Keep these, and no others: the shortest, as many as a file may have, for it is committed."""
    _KEPT.mkdir(exist_ok=True)
    shortest = sorted((base64.b64encode(each).decode() for each in inputs), key=len)
    sizes = accumulate(len(line) + 1 for line in shortest)
    lines = sorted(line for line, size in zip(shortest, sizes, strict=True) if size <= _MOST)
    (_KEPT / f"{name}.txt").write_text("".join(f"{line}\n" for line in lines), encoding="ascii")
