"""Tuples that keep what is worked out from their elements alone."""

import threading
from collections.abc import Callable, Hashable
from typing import Final, TypeVar, cast

_T_co = TypeVar("_T_co", covariant=True)
_R = TypeVar("_R")

_MOST_KEPT: Final = 8
"""Of each tuple; the least recently used goes first."""

_LOCK: Final = threading.Lock()


class Keeping(tuple[_T_co, ...]):  # noqa: SLOT001 - what it keeps are its attributes
    """A tuple that keeps some of what is worked out from its elements; it goes with the tuple."""

    def kept(self, name: Hashable, make: Callable[[], _R]) -> _R:
        """What ``make`` gives, made once for each name as long as it is kept.

        The name says whatever the result depends on beside the elements.
        """
        known = cast("dict[Hashable, _R]", self.__dict__)
        with _LOCK:
            if name in known:
                known[name] = known.pop(name)
                return known[name]
        # Made outside the lock: two threads may do the same work, but neither waits for the other.
        made = make()
        with _LOCK:
            known[name] = made
            while len(known) > _MOST_KEPT:
                del known[next(iter(known))]
        return made


def kept(of: object, name: Hashable, make: Callable[[], _R]) -> _R:
    """As `Keeping.kept`; of anything else, which keeps nothing, it is made each time."""
    return of.kept(name, make) if isinstance(of, Keeping) else make()
