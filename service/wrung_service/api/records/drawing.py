"""A record as a drawing: every stack of it as it stands, so that it can be drawn at any time."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from wrung.answers import PlacedBlock, Stack
from wrung.blocks import Block
from wrung.compositions import composition
from wrung.lengths import parse
from wrung.markings import Marking
from wrung.stack_drawing import NamedDrawing, StackDrawing, draw_stacks, drawn
from wrung_service.api.operations import MediaBody, text_example
from wrung_service.api.records.shape import RecordedBlock, RecordedStack, StackRecord
from wrung_service.api.stacks.built import StackOfTarget

SVG: Final = "image/svg+xml"


def drawing_body(name: str) -> MediaBody:
    """What the OpenAPI document says of it; ``name`` is that of its example."""
    return MediaBody(
        media_type=SVG,
        name="StackDrawings",
        schema={
            "type": "string",
            "description": "Each stack as it stands, with the order of wringing and what is left "
            "of the length below each block.",
        },
        examples={"drawing": text_example("Two blocks", f"{name}.svg")},
    )


def as_svg(record: StackRecord) -> bytes:
    """Its stacks one below the other, then the names of those it has not; in its language."""
    return draw_stacks(tuple(_named(record)), language=str(record.request["language"])).encode()


def drawing_of(stack: RecordedStack, record: StackRecord) -> StackDrawing:
    """What is drawn of one of its stacks."""
    shelf = [_block(block) for block in stack.blocks]
    small = record.small_unit
    planned = Stack(
        target=stack.target,
        role=stack.role,
        length=parse(stack.length, record.unit),
        nominal=parse(stack.nominal, record.unit),
        joints=len(shelf) - 1,
        blocks=tuple(
            PlacedBlock(
                id=block.id,
                nominal=block.nominal,
                role=block.role,
                unit=block.unit,
                body=block.body,
            )
            for block in shelf
        ),
        deviation=parse(stack.deviation, small, signed=True),
        worst_case_error=parse(stack.worst_case_error, small),
    )
    return drawn(planned, shelf, unit=record.unit, markings=markings_of(record))


def markings_of(record: StackRecord) -> Mapping[str, Marking]:
    """How sizes are marked in the sets that were asked for, by their ids."""
    sets: list[dict[str, Any]] = record.request["sets"]
    return {each["id"]: composition(each["composition"]).marking for each in sets}


def _block(block: RecordedBlock) -> Block:
    """As far as it is drawn."""
    nominal = parse(block.nominal, block.unit)
    return Block(
        id=block.id,
        nominal=nominal,
        role=block.role,
        unit=block.unit,
        set=block.set,
        serial=block.serial,
        body=block.body or None,
    )


def _name(stack: StackOfTarget | RecordedStack) -> str:
    return " ".join(filter(None, (stack.target, stack.role)))


def _named(record: StackRecord) -> Iterator[NamedDrawing]:
    for stack in record.stacks:
        yield NamedDrawing(name=_name(stack), shown=drawing_of(stack, record))
    for missing in record.unmet:
        yield NamedDrawing(name=_name(missing), shown=None)
