"""Names: which known ones are meant by those that are nearly right, and which stand twice."""

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Mapping
from difflib import get_close_matches
from typing import Final, TypeVar

from wrung.errors import InputError

T = TypeVar("T")

_MOST: Final = 3
_LONGEST: Final = 80
"""Comparing takes time with the square of the length, and no name of ours is longer."""


def nearest_names(name: str, known: Iterable[str]) -> tuple[str, ...]:
    """The known names most like this one, the nearest first; capitals make no difference."""
    by_folded = {each.casefold(): each for each in known}
    folded = name[:_LONGEST].casefold()
    close = get_close_matches(folded, by_folded, n=_MOST)
    # A name that only lacks its end, or its beginning, is a slip as well, however short it is.
    parts = [each for each in by_folded if len(folded) > 1 and folded in each]
    return tuple(by_folded[each] for each in dict.fromkeys((*close, *parts)))[:_MOST]


def named(known: Mapping[str, T], name: str, what: str, pointer: str) -> T:
    """What is known by that name.

    Args:
        known: all that there is.
        name: the name asked for.
        what: what it should be, for a sentence.
        pointer: to the member that has the name.

    Raises:
        InputError: there is no such thing; the detail lists those that there are.
    """
    if name not in known:
        detail = f"no {what} {name[:40]!r} is known{or_nearest(name, known)}"
        raise InputError.at(pointer, f"{detail}; there are {', '.join(known)}")
    return known[name]


def or_nearest(name: str, known: Iterable[str]) -> str:
    """What a refusal of a name ends with: its nearest known ones, or nothing where none is near.

    >>> or_nearest("inch-18", ["inch-81", "metric-88"])
    '; the nearest known is inch-81'
    """
    nearest = nearest_names(name, known)
    if not nearest:
        return ""
    return f"; the nearest known {'is' if len(nearest) == 1 else 'are'} {', '.join(nearest)}"


def repeats(names: Iterable[Hashable]) -> Iterator[int]:
    """The places of names that stand at an earlier place, too."""
    seen: set[Hashable] = set()
    for place, name in enumerate(names):
        if name in seen:
            yield place
        seen.add(name)


def numbered(labels: Iterable[str]) -> Iterator[str]:
    """The labels, each of which one stands before with its number: ``1.005``, then ``1.005#2``."""
    seen: Counter[str] = Counter()
    for label in labels:
        seen[label] += 1
        yield label if seen[label] == 1 else f"{label}#{seen[label]}"
