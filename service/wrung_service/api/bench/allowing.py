"""What to allow where a length cannot be built to the letter: the way to the nearest that can."""

from decimal import ROUND_UP, Decimal
from typing import Final

from msgspec import Struct

from wrung.lengths import Unit, parse, to_text
from wrung_service.api.bench.entry import entered
from wrung_service.api.bench.question import Question
from wrung_service.api.stacks.unmet import UnmetStack

_PLACES = Decimal("1e-8")
_MOST: Final = parse("0.1", "mm")
"""Who would have to allow more has typed another length, or has another shelf."""


class Allowance(Struct, frozen=True, kw_only=True):
    """A difference in a unit, and the text that allows it."""

    difference: str
    unit: Unit
    typed: str


def allowance(question: Question, missing: UnmetStack) -> Allowance | None:
    """The least that would do for a length; None for other kinds, or if nothing near it would."""
    targets = {each.name: each for each in (*question.kept, question.own)}
    typed = targets.get(missing.target)
    if typed is None or typed.kind != "length":
        return None
    entry = entered(dict(typed.members).get("want", ""), question.unit)
    near = [each for each in (missing.nearest_below, missing.nearest_above) if each]
    if entry.state != "length" or not near:
        return None
    wanted = parse(entry.text, entry.unit)
    least = min(abs(parse(each.length, question.unit) - wanted) for each in near)
    if least > _MOST:
        return None
    # Metric lengths in inches may have no end.
    difference = Decimal(to_text(least, entry.unit)).quantize(_PLACES, ROUND_UP).normalize()
    unit = "" if entry.unit == question.unit else f" {entry.unit}"
    return Allowance(
        difference=f"{difference:f}",
        unit=entry.unit,
        typed=f"{entry.text}{unit} ±{difference:f}",
    )
