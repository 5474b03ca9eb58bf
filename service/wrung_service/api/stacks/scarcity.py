"""Which blocks are scarce, as it stands on the wire and as a person reads it."""

from datetime import datetime
from typing import Annotated, Final

from msgspec import Meta, Struct

from wrung.answers import ScarceBlock
from wrung.blocks import Role
from wrung.lengths import Unit, to_text
from wrung.stack_names import StackName
from wrung.texts import Figure, Marked, Phrase, figure, phrase
from wrung_service.api.stacks.built import StackOfTarget, name_stack
from wrung_service.api.texts import DecimalText, Moment
from wrung_service.api.words import Words

_ROLES: Final[dict[Role, str]] = {"gauge": "scarce.gauge", "wear": "scarce.wear"}


class ScarceBlockReport(Struct, frozen=True, kw_only=True):
    """A block that stacks contend for, and what one more of it would serve."""

    nominal: Annotated[DecimalText, Meta(description="Its nominal length, in `unit`.")]
    unit: Annotated[Unit, Meta(description="Unit it is marked in.")]
    role: Annotated[Role, Meta(description="Gauge block or wear block.")]
    like: Annotated[
        str,
        Meta(description="Id of the block that one more would be equal to, its errors included."),
    ]
    on_shelf: Annotated[
        int, Meta(ge=1, description="Number of blocks of this length and role that may be used.")
    ]
    contenders: Annotated[
        tuple[StackOfTarget, ...],
        Meta(
            description="Stacks needed at one time that contend for it: each has one in this plan "
            "or in one that shows what one more serves, or cannot be built without it. Of all "
            "times at which that plan needs the one more, that with the most of them."
        ),
    ]
    contended_from: Annotated[
        Moment | None,
        Meta(description="Start of the time in which all of them are needed. Null without one."),
    ]
    contended_until: Annotated[Moment | None, Meta(description="Its end, likewise.")]
    stacks_with_one_more: Annotated[
        int, Meta(ge=1, description="Number of stacks that a plan with one more was found for.")
    ]
    most_stacks_with_one_more: Annotated[
        int, Meta(ge=1, description="No plan with one more has more stacks (proven).")
    ]
    detail: Annotated[str, Meta(description="The same as sentences.")]


def write_scarce(scarce: ScarceBlock, stacks: int, words: Words) -> ScarceBlockReport:
    """The block as it stands on the wire; ``stacks`` can be had without one more."""
    said = (_worth(scarce, stacks), *_wanted(scarce))
    return ScarceBlockReport(
        nominal=to_text(scarce.nominal, scarce.unit),
        unit=scarce.unit,
        role=scarce.role,
        like=scarce.like,
        on_shelf=scarce.on_shelf,
        contenders=tuple(map(name_stack, scarce.contenders)),
        contended_from=scarce.contended_from,
        contended_until=scarce.contended_until,
        stacks_with_one_more=scarce.stacks_with_one_more,
        most_stacks_with_one_more=scarce.most_stacks_with_one_more,
        detail=" ".join(map(words.say, said)),
    )


def _worth(scarce: ScarceBlock, stacks: int) -> Phrase:
    settled = scarce.stacks_with_one_more == scarce.most_stacks_with_one_more
    return phrase(
        "scarce.settled" if settled else "scarce.bounded",
        figure("block", (Marked(nominal=scarce.nominal, unit=scarce.unit, id=""),)),
        figure("role", phrase(_ROLES[scarce.role])),
        figure("count", scarce.on_shelf),
        figure("now", stacks),
        figure("stacks", scarce.stacks_with_one_more),
        figure("most", scarce.most_stacks_with_one_more),
    )


def _wanted(scarce: ScarceBlock) -> tuple[Phrase, ...]:
    """Who contends for it and when; a single stack contends with no other."""
    names = figure("names", ", ".join(map(_name, scarce.contenders)))
    since, until = scarce.contended_from, scarce.contended_until
    if len(scarce.contenders) == 1:
        return ()
    if since and until:
        said = phrase("scarce.wanted_between", _time("since", since), _time("until", until), names)
    elif since:
        said = phrase("scarce.wanted_from", _time("since", since), names)
    elif until:
        said = phrase("scarce.wanted_until", _time("until", until), names)
    else:
        said = phrase("scarce.wanted", names)
    return (said,)


def _time(name: str, time: datetime) -> Figure:
    return figure(name, time.isoformat(sep=" ", timespec="minutes"))


def _name(name: StackName) -> str:
    return f"{name.target} ({name.role})" if name.role else name.target
