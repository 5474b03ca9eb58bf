"""What decides between plans that are equally good, and what came of it, on the wire."""

from collections.abc import Iterable, Sequence
from typing import Annotated

from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.preferences import Preference, PreferenceGoal, PreferenceResult
from wrung_service.api.texts import Name

_GOAL = (
    "`spread_wear`: each time a block is taken for a stack, its counter `uses` is read and then "
    "goes up by one; the sum of these readings is least. `spare_best`: as few blocks as possible "
    "that are the best of their length, the better grade first, else the smaller uncertainty or "
    "limit; where all blocks of a length are equally good, none is the best. `prefer_set`: as few "
    "blocks as possible that are not of `set`. A block counts once for each stack that it is in."
)
_SET = "The set that is preferred; only with `prefer_set`."


class WantedPreference(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A goal after all others: it chooses between plans that are equally good."""

    goal: Annotated[PreferenceGoal, Meta(description=_GOAL)]
    set: Annotated[Name, Meta(description=_SET)] | None = None


class PreferenceOutcome(Struct, frozen=True, kw_only=True):
    """What the plan comes to by a preference, and what is proven of it."""

    goal: Annotated[PreferenceGoal, Meta(description=_GOAL)]
    set: Annotated[str | None, Meta(description=_SET)]
    value: Annotated[
        int, Meta(ge=0, description="Sum of readings, or number of blocks; less is better.")
    ]
    lower_bound: Annotated[
        int,
        Meta(
            ge=0,
            description="No plan for the same targets has less that is equally good by the "
            "objective, the changes of blocks, and the preferences before this one.",
        ),
    ]
    proven: Annotated[bool, Meta(description="Whether the bound is reached: none has less.")]


def read_preferences(sent: Iterable[WantedPreference]) -> tuple[Preference, ...]:
    """What the library is asked."""
    return tuple(Preference(goal=each.goal, set=each.set) for each in sent)


def write_preferences(
    found: Sequence[PreferenceResult],
) -> tuple[PreferenceOutcome, ...] | UnsetType:
    """What came of each; unset where there are none."""
    written = tuple(
        PreferenceOutcome(
            goal=each.goal,
            set=each.set,
            value=each.value,
            lower_bound=each.lower_bound,
            proven=each.proven,
        )
        for each in found
    )
    return written or UNSET
