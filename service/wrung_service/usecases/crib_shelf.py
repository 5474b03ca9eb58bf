"""What a crib has for a request: its blocks, and when each of them is taken."""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, tzinfo
from typing import TypeAlias

from msgspec import Struct

from wrung.blocks import Block


class Window(Struct, frozen=True, kw_only=True):
    """A time from its start on up to its end, which is no part of it."""

    starts_at: datetime
    ends_at: datetime

    def meets(self, other: "Window") -> bool:
        """Whether the two have any moment in common."""
        return self.starts_at < other.ends_at and other.starts_at < self.ends_at


class Taken(Window, frozen=True, kw_only=True):
    """A block that others have in a window.

    Attributes:
        plan: the plan that it is promised to, or out for; None for a loan without one.
        priority: of that plan.
        known_end: false for a loan of which nobody knows when it will be back.
    """

    block: str
    plan: str | None = None
    job: str | None = None
    operation: str | None = None
    priority: int | None = None
    known_end: bool = True


class CribWanted(Struct, frozen=True, kw_only=True):
    """Which part of a crib a request is about, and for which time.

    Attributes:
        sets: ids of sets; empty for everything that the site has.
        leave_out: ids of blocks that may not be used.
        window: from the first need to the last.
        beside: plans whose promises do not count, as they are to be made anew.
    """

    site: str
    sets: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    window: Window
    beside: frozenset[str] = frozenset()


class CribShelf(Struct, frozen=True, kw_only=True):
    """Every block that is fit for use, and who has which of them in the window.

    Attributes:
        versions: by id, the version of each block that was read.
        time_zone: of the site; days begin and end in it.
        sets: ids of all sets of the site, with and without blocks that are fit for use.
        steps: by each step of a step block, all steps of it, fit for use or not.
    """

    blocks: tuple[Block, ...]
    versions: Mapping[str, int]
    taken: tuple[Taken, ...]
    time_zone: tzinfo
    sets: frozenset[str] = frozenset()
    steps: Mapping[str, frozenset[str]] = {}

    def taken_in(self, *windows: Window) -> frozenset[str]:
        """Ids of the blocks that are not free throughout these windows."""
        return self.whole(
            each.block for each in self.taken if any(each.meets(window) for window in windows)
        )

    def whole(self, names: Iterable[str]) -> frozenset[str]:
        """These blocks, and all steps of every step block among them."""
        found = frozenset(names)
        if not self.steps:
            return found
        return found.union(*(self.steps.get(name, ()) for name in found))


LookUp: TypeAlias = Callable[[CribWanted], CribShelf]
"""Looks into the crib.

Raises:
    UnknownError: there is no such site or set, or no block of an id that is to be left out.
    UnavailableError: the database does not do its work now.
"""
