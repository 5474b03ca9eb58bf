"""Inputs that reached something new, kept in a file for each decoder, one a line in base64."""

import base64
from pathlib import Path
from typing import Final

_KEPT: Final = Path(__file__).parent / "corpus"


def kept(name: str) -> tuple[bytes, ...]:
    """What is kept for a decoder."""
    path = _KEPT / f"{name}.txt"
    lines = path.read_text(encoding="ascii").split() if path.exists() else []
    return tuple(base64.b64decode(line) for line in lines)


def keep(name: str, inputs: list[bytes]) -> None:
    """Keep these, and no others."""
    _KEPT.mkdir(exist_ok=True)
    lines = sorted(base64.b64encode(each).decode() for each in inputs)
    (_KEPT / f"{name}.txt").write_text("".join(f"{line}\n" for line in lines), encoding="ascii")
