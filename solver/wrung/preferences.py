"""Preferences: which of several plans is chosen that are equally good by all else."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Literal, TypeAlias

from msgspec import Struct

from wrung.blocks import Block, grade_row, margin
from wrung.checked_types import CheckedStruct
from wrung.errors import Fault
from wrung.names import or_nearest

PreferenceGoal: TypeAlias = Literal["spread_wear", "spare_best", "prefer_set"]
"""To use blocks that were used least, to leave the best blocks alone, or to use those of a set."""

_Quality: TypeAlias = tuple[tuple[int, int] | None, int]
"""What the grade of a block allows, None without one; and its margin."""


class Preference(CheckedStruct, frozen=True, kw_only=True):
    """A goal after all others; of it a whole number is made, the smaller the better.

    Attributes:
        goal: ``spread_wear``: each time a block is taken for a stack, its counter is read and then
            goes up by one; the sum of these readings. ``spare_best``: how often a best block is
            taken for a stack, see `best_of_their_length`. ``prefer_set``: how often a block is
            taken for a stack that is not of the set.
        set: the set that is preferred; only for ``prefer_set``.
    """

    goal: PreferenceGoal
    set: str | None = None


class PreferenceResult(Struct, frozen=True, kw_only=True):
    """What a plan comes to by a preference, and what is proven of it.

    Attributes:
        goal: as asked for.
        set: as asked for.
        value: of the plan.
        lower_bound: no plan that serves the same targets has less, if it is no worse by any value
            of the objective, changes no more blocks, and is no worse by the preferences before.
    """

    goal: PreferenceGoal
    set: str | None = None
    value: int
    lower_bound: int

    @property
    def proven(self) -> bool:
        """Whether no plan that is as good has less."""
        return self.value == self.lower_bound


def preference_faults(preferences: Sequence[Preference], sets: Collection[str]) -> Iterator[Fault]:
    """What is wrong with preferences where there are these sets, each with a pointer."""
    for place, each in enumerate(preferences):
        at = f"/preferences/{place}"
        if (each.goal == "prefer_set") != (each.set is not None):
            detail = "prefer_set names a set, and no other goal does"
            yield Fault(pointer=f"{at}/set", detail=detail)
        elif each.set is not None and each.set not in sets:
            detail = f"no block is of the set {each.set!r}{or_nearest(each.set, sets)}"
            yield Fault(pointer=f"{at}/set", detail=detail)
        if each in preferences[:place]:
            yield Fault(pointer=at, detail="is there already")


def applicable(
    preferences: Iterable[Preference], blocks: Iterable[Block]
) -> tuple[Preference, ...]:
    """Those that mean something among these blocks: a set without any of them cannot be had."""
    sets = {block.set for block in blocks}
    return tuple(each for each in preferences if each.set is None or each.set in sets)


def best_of_their_length(blocks: Iterable[Block]) -> frozenset[str]:
    """Ids of the blocks worth sparing: none of their length is better, and some are worse.

    Blocks of one nominal length and role are compared. The better one is of the better grade, whose
    tolerance of the variation in length is smaller, or else its limit deviation; where the grades
    are equal, or either block states none, the one with the smaller margin (`wrung.blocks.margin`).
    """
    alike: dict[tuple[int, str], dict[str, _Quality]] = {}
    for block in blocks:
        own = alike.setdefault((block.nominal, block.role), {})
        own[block.id] = (_grade(block), margin(block))
    best = [(group, _best(set(group.values()))) for group in alike.values()]
    return frozenset(id_ for group, own in best for id_, quality in group.items() if quality in own)


def _best(qualities: Collection[_Quality]) -> set[_Quality]:
    """Those than which none is better, and some are worse."""
    return {
        one
        for one in qualities
        if any(_better(one, other) for other in qualities)
        and not any(_better(other, one) for other in qualities)
    }


def _better(one: _Quality, other: _Quality) -> bool:
    (grade, own_margin), (others, other_margin) = one, other
    if grade is None or others is None or grade == others:
        return own_margin < other_margin
    return grade < others


def _grade(block: Block) -> tuple[int, int] | None:
    """What it allows, the smaller the better; None without a grade that has limits for it."""
    row = grade_row(block)
    if row is None:
        return None
    allowed = row.limit_deviation if row.variation is None else row.variation
    return allowed, row.limit_deviation
