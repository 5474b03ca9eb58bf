"""Which blocks of the shelf may not be used, and why."""

from collections.abc import Collection, Iterable

from wrung.answers import Restriction
from wrung.blocks import Block


def restrictions_on(
    blocks: Iterable[Block],
    exclude: Collection[str],
    only: Collection[str] | None,
    overdue: Collection[str],
) -> dict[str, frozenset[Restriction]]:
    """By the id of each block that may not be used, all the reasons why."""
    excluded, late = set(exclude), set(overdue)
    listed = None if only is None else set(only)
    found: dict[str, frozenset[Restriction]] = {}
    for name in (block.id for block in blocks):
        by: list[tuple[Restriction, bool]] = [
            ("overdue", name in late),
            ("exclude", name in excluded),
            ("only", listed is not None and name not in listed),
        ]
        forbidding: frozenset[Restriction] = frozenset(each for each, holds in by if holds)
        if forbidding:
            found[name] = forbidding
    return found
