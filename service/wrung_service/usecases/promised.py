"""Which blocks a plan needs promised, and for which times."""

from collections.abc import Sequence

from wrung.answers import Stack
from wrung_service.store.promises import Promise, in_order
from wrung_service.usecases.stack_query import StackQuery


def promises_for(query: StackQuery, stacks: Sequence[Stack]) -> tuple[Promise, ...]:
    """One for each block and time: stacks in turn share the time, and the block."""
    windows = {
        target.ref: window for target, window in zip(query.targets, query.windows, strict=True)
    }
    found: dict[object, Promise] = {}
    for place, stack in enumerate(stacks):
        window = windows[stack.target]
        for placed in stack.blocks:
            promise = Promise(
                block=placed.id, stack=place, starts_at=window.starts_at, ends_at=window.ends_at
            )
            found.setdefault((placed.id, window), promise)
    return in_order(found.values())
