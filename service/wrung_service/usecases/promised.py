"""Which blocks a plan needs promised, and for which times."""

from collections.abc import Sequence

from wrung.answers import Stack
from wrung_service.store.promises import Promise, in_order
from wrung_service.usecases.stack_query import StackQuery


def promises_for(query: StackQuery, stacks: Sequence[Stack]) -> tuple[Promise, ...]:
    """One for each block and time: stacks in turn share the time, and the block.

    A step block is promised as a whole, by all of its steps.
    """
    windows = {
        target.ref: window for target, window in zip(query.targets, query.windows, strict=True)
    }
    found: dict[object, Promise] = {}
    for place, stack in enumerate(stacks):
        window = windows[stack.target]
        names = {placed.id for placed in stack.blocks}
        for name in sorted(names if query.crib is None else query.crib.whole(names)):
            promise = Promise(
                block=name, stack=place, starts_at=window.starts_at, ends_at=window.ends_at
            )
            found.setdefault((name, window), promise)
    return in_order(found.values())
