"""What the material of blocks means for the hands; by the ids of the table of materials."""

from collections.abc import Iterable
from typing import Final

from wrung.blocks import Block
from wrung.checked_types import typed

_RUST: Final = frozenset({None, "steel", "steel-long", "alloy-steel", "cast-iron", "ductile-iron"})
"""Steel and iron, and what is not said to be anything else, as most sets are of steel."""

_BRITTLE: Final = frozenset(
    {
        *("zirconia", "alumina", "tungsten-carbide", "chromium-carbide"),
        *("fused-silica", "zerodur", "granite"),
    }
)
_SLOW: Final = frozenset({"zirconia", "fused-silica", "zerodur", "granite"})


def rusts(block: Block) -> bool:
    """Whether it rusts, burrs and can be magnetised: whether it is of steel."""
    return block.material in _RUST


@typed
def any_brittle(blocks: Iterable[Block]) -> bool:
    """Whether any of them chips when it falls."""
    return any(block.material in _BRITTLE for block in blocks)


@typed
def any_slow(blocks: Iterable[Block]) -> bool:
    """Whether any of them conducts heat badly."""
    return any(block.material in _SLOW for block in blocks)
