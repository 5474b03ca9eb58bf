"""How much memory one search may hold at a time, counted wherever much is held.

Tables, walks through candidates, sums and models ask for room before they take it. Where there is
none, tables that can be rebuilt are dropped first; then the search does without, as it does when
time runs out. The counts depend on the request alone, so the answer does too.
"""

from collections.abc import Hashable
from typing import Any, Final, TypeVar
from weakref import WeakValueDictionary, finalize, ref

MEGABYTE: Final = 1_000_000
DEFAULT_MEMORY_MB: Final = 384

T = TypeVar("T")


class Memory:
    """The budget of one search, in bytes."""

    def __init__(self, most_mb: float = DEFAULT_MEMORY_MB) -> None:
        self._most = int(most_mb * MEGABYTE)
        self._held = 0
        self.peak = 0
        # All counted objects that are alive, so that one asked for twice is held only once.
        self._alive: WeakValueDictionary[Hashable, Any] = WeakValueDictionary()
        self._shelves: list[ref[Shelf]] = []

    @property
    def left(self) -> int:
        """Bytes that may still be held."""
        return max(self._most - self._held, 0)

    def room(self, size: int) -> bool:
        """Whether this many more bytes may be held; what can be rebuilt gives way."""
        if size <= self.left:
            return True
        for shelf in self._filled():
            while size > self.left and shelf.drop():
                pass
        return size <= self.left

    def hold(self, owner: T, size: int, key: Hashable = None) -> T:
        """Count this many bytes for as long as the owner lives; its key finds it again."""
        self._held += size
        self.peak = max(self.peak, self._held)
        finalize(owner, self._let_go, size).atexit = False
        if key is not None:
            self._alive[key] = owner
        return owner

    def alive(self, key: Hashable) -> Any:  # noqa: ANN401 - whatever has that key
        """What is held under that key; None if nothing is."""
        return self._alive.get(key)

    def shelf(self) -> "Shelf":
        """A shelf for things that are kept to save time."""
        shelf: Shelf = Shelf()
        self._shelves.append(ref(shelf))
        return shelf

    def _filled(self) -> "list[Shelf]":
        found = [shelf for each in self._shelves if (shelf := each()) is not None]
        self._shelves = [ref(shelf) for shelf in found]
        return found

    def _let_go(self, size: int) -> None:
        self._held -= size


class Shelf:
    """Things that can be rebuilt, kept as long as there is room; they go with their owner."""

    def __init__(self) -> None:
        self._kept: dict[Hashable, object] = {}

    def keep(self, key: Hashable, value: object) -> None:
        """Keep it until something else needs the room."""
        self._kept[key] = value

    def drop(self) -> bool:
        """Drop one; False if there is none."""
        if not self._kept:
            return False
        # They are used in turn, over and over: the one kept first is the next to be needed.
        self._kept.popitem()
        return True
