"""Cards on paper, as PDF or PNG; the same fonts wherever it runs, those that are shipped."""

from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Final, Literal, TypeAlias

import msgspec
from msgspec import Struct

from wrung_service.api.cards.card import Card

if TYPE_CHECKING:
    from typst import Fonts

CardFormat: TypeAlias = Literal["a6", "half-letter", "a4", "letter", "sheet-a4", "sheet-letter"]
FORMATS: Final = ("a6", "half-letter", "a4", "letter", "sheet-a4", "sheet-letter")
"""A card a page, four cards a page, or a set-up sheet with a line a stack."""
_PPI: Final = 200


class Printed(Struct, frozen=True, kw_only=True):
    """All that stands on paper.

    Attributes:
        job: what all of it is for.
        record: what the record is known by.
        shelf: the sets that the stacks were chosen from; ``out``: what of them is not there.
        address: where all of it can be looked up; ``code``: the same as a QR code, SVG.
    """

    job: str
    format: CardFormat
    language: str
    cards: Sequence[Card]
    words: Mapping[str, str]
    record: str
    shelf: str
    out: str
    address: str
    code: str


def as_pdf(printed: Printed) -> bytes:
    """Every page."""
    pages = _compiled(printed, "pdf")
    assert isinstance(pages, bytes)  # noqa: S101 - a PDF is one file
    return pages


def as_png(printed: Printed, page: int) -> bytes | None:
    """One page, counted from 1; None if there is no such page."""
    pages = _compiled(printed, "png")
    all_pages = [pages] if isinstance(pages, bytes) else pages
    return all_pages[page - 1] if page <= len(all_pages) else None


def _compiled(printed: Printed, media: Literal["pdf", "png"]) -> bytes | list[bytes]:
    # The compiler takes 30 MB, so only those who print have it in memory.
    import typst  # noqa: PLC0415

    made: bytes | list[bytes] = typst.compile(
        _template(),
        format=media,
        ppi=_PPI,
        font_paths=_fonts(),
        timestamp=0,
        sys_inputs={"data": msgspec.json.encode(printed).decode()},
    )
    return made


@cache
def _fonts() -> "Fonts":
    """Those that are shipped, and none of the machine's."""
    import typst  # noqa: PLC0415 - as above

    with as_file(files("wrung_service").joinpath("pages", "fonts")) as folder:
        return typst.Fonts(
            include_system_fonts=False, include_embedded_fonts=False, font_paths=[folder]
        )


@cache
def _template() -> bytes:
    return files("wrung_service").joinpath("pages", "cards", "cards.typ").read_bytes()
