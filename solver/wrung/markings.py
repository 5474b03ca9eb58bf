"""How the sizes of gauge blocks stand on them."""

from functools import cache
from typing import Literal

from wrung.lengths import Unit, to_text
from wrung.tables import Sourced, load


class Marking(Sourced, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the sizes of a set are marked.

    Attributes:
        leading_zero: whether a size below one unit has a nought before its decimal sign.
        decimals: a size below one unit has at least so many.
        decimal_sign: the one that is marked; None where that of the reader will do.
    """

    leading_zero: bool
    decimals: int
    decimal_sign: Literal[".", ","] | None = None


def usual_marking(unit: Unit) -> Marking:
    """That of blocks in this unit of which nothing else is known."""
    return _usual()[unit]


def engraved(nominal: int, unit: Unit, decimal_sign: str, marking: Marking | None = None) -> str:
    """A nominal length as it stands on the block.

    Args:
        nominal: the length, quanta.
        unit: the unit that the block is marked in.
        decimal_sign: of the reader's language, for sets that are not known to have their own.
        marking: of its set; the usual one of the unit if left out.
    """
    marked = marking or usual_marking(unit)
    whole, _, decimals = to_text(abs(nominal), unit).partition(".")
    if whole == "0":
        decimals = decimals.ljust(marked.decimals, "0")
        whole = whole if marked.leading_zero else ""
    return f"{whole}{marked.decimal_sign or decimal_sign}{decimals}" if decimals else whole


@cache
def _usual() -> dict[Unit, Marking]:
    return load("markings.toml", dict[Unit, Marking])
