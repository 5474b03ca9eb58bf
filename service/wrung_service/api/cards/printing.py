"""Prints the cards of a record: what stands beside the stacks, and which file it becomes."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, TypeAlias, cast

from msgspec import Struct

from wrung.compositions import composition
from wrung.lengths import parse
from wrung.markings import engraved
from wrung.texts import decimal_mark
from wrung_service.api.cards.card import Card, cards_of, operation_of, short_names, with_letter
from wrung_service.api.cards.check_records import check_records_of
from wrung_service.api.cards.codes import code_of
from wrung_service.api.cards.instructed import instructed
from wrung_service.api.cards.lettering import card_drawings, line_drawings, screen_drawings
from wrung_service.api.cards.page import Place, as_page
from wrung_service.api.cards.typesetting import (
    CardFormat,
    CardMedia,
    Printed,
    Remark,
    WithoutCard,
    as_pdf,
    as_png,
)
from wrung_service.api.cards.words import with_grade, words_of
from wrung_service.api.problem_types import INVALID_PARAMETER, NOT_FOUND
from wrung_service.api.problems import Refusal
from wrung_service.api.records.reading import RecordReader
from wrung_service.api.records.shape import RecordedStack, StackRecord

Json: TypeAlias = Any
_DIGITS: Final = 16
"""Of the hash of a record, by which it and a paper are held against each other."""
_MOST_OUT: Final = 12
MOST_CARDS: Final = 250
MOST_LINES: Final = 1000
"""Stacks on cards, and on a set-up sheet: either takes the typesetter 400 MB at most."""
_ON_ONE_CARD: Final = 7
"""Blocks; a stack of more may have two cards, and takes twice the memory."""


class CardsWanted(Struct, frozen=True, kw_only=True):
    """What cards are to be made as.

    Attributes:
        page: of a picture, from 1.
        place: of a page for the screen.
    """

    format: CardFormat
    media: CardMedia
    job: str = ""
    page: int = 1
    place: Place = Place()


class Address(Struct, frozen=True, kw_only=True):
    """Where all of it can be looked up, and the largest version of a code that may say so."""

    text: str
    largest_code: int | None = None


NOWHERE: Final = Address(text="")


def print_cards(
    record: StackRecord, wanted: CardsWanted, address: Address, read: RecordReader
) -> bytes:
    """A PDF, the picture of a page, or a page for the screen.

    Raises:
        Refusal: 404, there is no such page; 400, it has too many stacks.
    """
    printed = _printed(record, wanted, address, read)
    if wanted.media == "html":
        return as_page(printed, wanted.place)
    if wanted.media == "pdf":
        return as_pdf(printed)
    picture = as_png(printed, wanted.page)
    if picture is None:
        raise Refusal(NOT_FOUND, f"There is no page {wanted.page}.")
    return picture


def _printed(
    record: StackRecord, wanted: CardsWanted, address: Address, read: RecordReader
) -> Printed:
    on_sheet = wanted.format.startswith(("sheet", "record"))
    _check_number(record.stacks, MOST_LINES if on_sheet else MOST_CARDS)
    code = code_of(address.text, address.largest_code)
    language = str(record.request["language"])
    on_cards = screen_drawings if wanted.media == "html" else card_drawings
    draw = line_drawings if on_sheet else on_cards
    work = instructed(record, read)
    cards = cards_of(work, draw)
    return Printed(
        job=wanted.job,
        format=wanted.format,
        language=language,
        cards=cards,
        records=check_records_of(work),
        remarks=tuple(_remarks(cards)),
        without_card=tuple(_without_card(record, language)),
        words=words_of(language),
        record=record.request_sha256[:_DIGITS],
        shelf=shelf_of(record),
        out=out_of(record),
        address=address.text if code else "",
        code=code,
    )


def _remarks(cards: Sequence[Card]) -> Iterator[Remark]:
    for text in dict.fromkeys(remark for card in cards for remark in card.remarks):
        of = [card.operation for card in cards if text in card.remarks]
        yield Remark(text=text, operations=of if len(of) < len(cards) else ())


def _without_card(record: StackRecord, language: str) -> Iterator[WithoutCard]:
    kinds = {
        "unmet": [operation_of(each, language) for each in record.unmet],
        "angles": [each.target for each in record.targets if each.kind == "angle_blocks"],
    }
    for word, targets in kinds.items():
        if targets:
            yield WithoutCard(why=words_of(language)[word], targets=targets)


def _check_number(stacks: Sequence[RecordedStack], most: int) -> None:
    if sum(2 if len(stack.blocks) > _ON_ONE_CARD else 1 for stack in stacks) > most:
        detail = (
            f"{len(stacks)} stacks are too many to print at a time; at most {most}, "
            f"those of more than {_ON_ONE_CARD} blocks counted twice."
        )
        raise Refusal(INVALID_PARAMETER, detail)


def shelf_of(record: StackRecord) -> str:
    """The sets that were asked for, or else those of the blocks that were used."""
    sets: list[dict[str, Json]] = record.request["sets"]
    words, short = words_of(str(record.request["language"])), short_names(record)
    named = {each["id"]: with_grade(each["id"], each["grade"], words) for each in sets}
    said = named or {name: name for name in short}
    return " · ".join(with_letter(short.get(name, ""), name, each) for name, each in said.items())


def out_of(record: StackRecord) -> str:
    """What of that is not there, a dozen at most by name."""
    mark = decimal_mark(str(record.request["language"]))
    names = list(_out(record.request, mark))
    more = f" + {len(names) - _MOST_OUT}" if len(names) > _MOST_OUT else ""
    return ("  ".join(names[:_MOST_OUT]) + more) or "-"


def _out(request: Mapping[str, Json], mark: str) -> Iterator[str]:
    sets: list[dict[str, Json]] = request["sets"]
    for each in sets:
        known, missing = composition(each["composition"]), cast("list[str]", each["missing"])
        # Another set may have a block with this figure.
        of_set = f" {each['id']}" if len(sets) > 1 else ""
        for nominal in missing:
            figure = engraved(parse(nominal, known.unit), known.unit, mark, known.marking)
            yield f"{figure}{of_set}"
    excluded: list[str] = request["exclude"]
    yield from excluded
