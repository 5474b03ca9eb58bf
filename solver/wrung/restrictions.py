"""Which blocks of the shelf may not be used, and why."""

from collections.abc import Collection, Sequence

from wrung.answers import Restriction
from wrung.blocks import Block


def restrictions_on(
    blocks: Sequence[Block],
    exclude: Collection[str],
    only: Collection[str] | None,
    overdue: Collection[str],
) -> dict[str, frozenset[Restriction]]:
    """By the id of each block that may not be used, all the reasons why."""
    unlisted = set() if only is None else {block.id for block in blocks}.difference(only)
    forbidden: dict[Restriction, set[str]] = {
        "overdue": set(overdue),
        "exclude": set(exclude),
        "only": unlisted,
    }
    every = set[str]().union(*forbidden.values())
    return {
        block.id: frozenset(by for by, names in forbidden.items() if block.id in names)
        for block in blocks
        if block.id in every
    }
