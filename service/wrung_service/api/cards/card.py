"""What stands on a card, from an answer with its record and its instructions."""

from collections.abc import Iterator, Sequence
from typing import Final

from msgspec import UNSET, Struct

from wrung.lengths import parse
from wrung.stack_drawing import draw_stack
from wrung.stack_drawing.lettering import engraved
from wrung.texts import decimal_mark
from wrung_service.api.cards.rounding import at_most, uncertainty
from wrung_service.api.records.drawing import drawing_of
from wrung_service.api.records.shape import RecordedBlock, RecordedStack, StackRecord
from wrung_service.api.stacks.answer import StackAnswer, StackHandwork

_SIGNS: Final = {"mm": "mm", "in": "in", "um": "µm", "uin": "µin", "degC": "°C", "degF": "°F"}
_HIGH: Final = 218
_PITCH: Final = 50
_CAUTIONS: Final = 2


class LaidOut(Struct, frozen=True, kw_only=True):
    """A block to lay out: the figure on it, and what tells it from others."""

    figure: str
    note: str
    is_wear_block: bool


class Card(Struct, frozen=True, kw_only=True):
    """One card.

    Attributes:
        operation: what the stack is for.
        length: the wanted length with its decimals, in ``unit``.
        shelf: the sets that its blocks are from.
        error: the most that it can be off, rounded up.
        uncertainty: expanded, k = 2; None without a budget.
        conditions: material and temperature.
        drawing: SVG.
        blocks: in the order of the case.
        base_first: the figures in the order of standing.
        minutes: how long it lies beside the work.
        uses: what is done with it.
        cautions: two of them, the use's own first.
        wear: whether there is a wear block.
    """

    operation: str
    length: str
    unit: str
    shelf: str
    error: str
    uncertainty: str | None
    small: str
    conditions: str
    drawing: str
    blocks: tuple[LaidOut, ...]
    base_first: tuple[str, ...]
    minutes: int
    uses: tuple[str, ...]
    cautions: tuple[str, ...]
    wear: bool


def cards_of(answer: StackAnswer, record: StackRecord, language: str) -> tuple[Card, ...]:
    """A card for each stack of gauge blocks."""
    written = () if answer.handwork is UNSET else answer.handwork
    work = {(each.target, each.role): each for each in written}
    return tuple(
        _card(stack, record, work.get((stack.target, stack.role)), language)
        for stack in record.stacks
    )


def _card(
    stack: RecordedStack, record: StackRecord, work: StackHandwork | None, language: str
) -> Card:
    mark = decimal_mark(language)
    shown = drawing_of(stack, record)
    pitch = min(_PITCH, _HIGH / len(shown.blocks))
    sure = stack.expanded_uncertainty
    return Card(
        operation=" ".join(filter(None, (stack.target, stack.role))),
        length=_marked(stack.length, record.unit, mark),
        unit=_SIGNS[record.unit],
        shelf=" · ".join(_sets(stack.blocks)),
        error=at_most(stack.worst_case_error).replace(".", mark),
        uncertainty=None if sure is None else uncertainty(sure).replace(".", mark),
        small=_SIGNS[record.small_unit],
        conditions=_conditions(stack, record, mark),
        drawing=draw_stack(shown, language=language, pitch=pitch),
        blocks=tuple(_laid_out(stack.blocks, mark)),
        base_first=tuple(engraved(each.nominal, each.unit, mark) for each in shown.blocks),
        minutes=work.waiting_minutes if work else 0,
        uses=tuple(step.text for step in work.steps if step.phase == "use") if work else (),
        cautions=tuple(each.text for each in work.cautions[:_CAUTIONS]) if work else (),
        wear=any(block.role == "wear" for block in stack.blocks),
    )


def _marked(length: str, unit: str, mark: str) -> str:
    return length if unit == "in" else length.replace(".", mark)


def _sets(blocks: Sequence[RecordedBlock]) -> Iterator[str]:
    seen = dict.fromkeys((block.set, block.grade) for block in blocks if block.set)
    for name, grade in seen:
        yield f"{name} {grade}" if grade else str(name)


def _conditions(stack: RecordedStack, record: StackRecord, mark: str) -> str:
    materials = sorted({block.material or "steel" for block in stack.blocks})
    temperature = record.conditions.temperature
    degrees = "20" if temperature is None else f"{temperature.value:g}"
    shown = f"{degrees.replace('.', mark)} {_SIGNS[record.temperature_unit]}"
    return ", ".join((*materials, shown))


def _laid_out(blocks: Sequence[RecordedBlock], mark: str) -> Iterator[LaidOut]:
    """Set by set as the case lies, wear blocks last."""

    def place(block: RecordedBlock) -> tuple[bool, str, int]:
        return block.role == "wear", block.set or "", parse(block.nominal, block.unit)

    several = len({block.set for block in blocks}) > 1
    for block in sorted(blocks, key=place):
        parts = (block.set if several else None, block.serial)
        yield LaidOut(
            figure=engraved(parse(block.nominal, block.unit), block.unit, mark),
            note=" ".join(filter(None, parts)),
            is_wear_block=block.role == "wear",
        )
