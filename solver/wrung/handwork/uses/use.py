"""Something to do with a stack."""

from collections.abc import Iterator
from typing import Final, TypeAlias

from wrung.lengths import um
from wrung.measures import Measure
from wrung.targets.roll_contact import PressedRolls
from wrung.texts import Figure, Phrase, figure, phrase

Uses: TypeAlias = Iterator[tuple[str | None, Phrase]]
"""The part that a stack plays in its target, and something to do with it; in order."""

_AT_BEST: Final = um("1")
"""Nobody at a bench measures over rolls, balls or wires any better (common practice, no source)."""


def worked_out(name: str, size: int, uncertainty: int | None = None) -> Figure:
    """A size by geometry, quanta, with the figures that it is known to."""
    sure = max(uncertainty or 0, _AT_BEST)
    return figure(name, size, Measure.LENGTH, uncertainty=sure)


def stated(name: str, *sizes: int | None) -> Figure:
    """What the length is for, such as a bar or two pins, by the sizes that were stated, quanta.

    A shop has several of them, and the stack is right for one only.
    """
    given = dict.fromkeys(size for size in sizes if size is not None)
    return figure(name, tuple(given), Measure.LENGTH, "stated")


def with_force(use: Phrase, pressed: PressedRolls | None) -> Phrase:
    """What to do, and with which force, where the figures are worked out for one."""
    if pressed is None or pressed.contact is None:
        return use
    key = "use.rolls_measured" if pressed.faces else "use.rolls_pressed"
    force = figure("force", f"{pressed.contact.force_newtons:f}", Measure.RATIO)
    return phrase(key, figure("use", use), force)
