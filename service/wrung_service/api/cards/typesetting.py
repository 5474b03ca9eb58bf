"""Cards on paper, as PDF or PNG; the same fonts wherever it runs, those that are shipped."""

import re
import subprocess
import sys
import threading
import unicodedata
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from importlib.resources import as_file, files
from typing import Final, Literal, TypeAlias, get_args

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from wrung_service.api.cards.card import Card
from wrung_service.api.cards.check_records import CheckRecord
from wrung_service.pool import BusyError

CardFormat: TypeAlias = Literal[
    "a6", "half-letter", "a4", "letter", "sheet-a4", "sheet-letter", "record-a4", "record-letter"
]
FORMATS: Final[tuple[CardFormat, ...]] = get_args(CardFormat)
"""A card a page, four cards a page, a set-up sheet with a line a stack, or records of checks."""
CardMedia: TypeAlias = Literal["html", "pdf", "png"]
PATIENCE_S: Final = 60
"""A card takes less than half a second of CPU time, so only a machine without any takes longer."""
_RETRY_S: Final = 5
_FROM_OUTSIDE: Final = frozenset({1, 2, 9, 15})
"""SIGHUP, SIGINT, SIGKILL and SIGTERM, not all of which have a name on Windows."""
_ONE_AT_A_TIME: Final = threading.Lock()
"""So that it takes the memory of one, however many workers there are."""
_WITHOUT_GLYPH: Final = re.compile(
    "[^\u0000-\u04ff\u0590-\u05ff\u0621-\u0652\u1e00-\u23ff\u2460-\u262f]"
)
"""All but Latin, Greek, Cyrillic, Hebrew, Arabic, punctuation and signs: no font has the others,
and left alone they would be gone from the paper without a trace."""


class WithoutCard(Struct, frozen=True, kw_only=True):
    """Targets that have no card, and what they are, in words."""

    why: str
    targets: Sequence[str]


class Remark(Struct, frozen=True, kw_only=True):
    """What to know of the figures of some stacks; of all where none are named."""

    text: str
    operations: Sequence[str]


class Printed(Struct, frozen=True, kw_only=True):
    """All that stands on paper.

    Attributes:
        job: what all of it is for.
        records: of instruments, filled in as far as there are readings.
        remarks: those of all cards, each once, for a sheet.
        without_card: what there is no stack for, and what is made of angle blocks.
        record: what the record is known by.
        shelf: the sets that the stacks were chosen from; ``out``: what of them is not there.
        address: where all of it can be looked up; ``code``: the same as a QR code, SVG.
        page: the only page that is set, of cards; all if None.
    """

    job: str
    format: CardFormat
    language: str
    cards: Sequence[Card]
    records: Sequence[CheckRecord]
    remarks: Sequence[Remark]
    without_card: Sequence[WithoutCard]
    words: Mapping[str, str]
    record: str
    shelf: str
    out: str
    address: str
    code: str
    page: int | None = None


def as_pdf(printed: Printed) -> bytes:
    """Every page."""
    return _typeset(printed, "pdf", 1)


def as_png(printed: Printed, page: int) -> bytes | None:
    """One page, counted from 1; None if there is no such page."""
    if printed.format.startswith(("sheet", "record")):
        return _typeset(printed, "png", page) or None
    # Of cards only those of the page are set.
    return _typeset(replace(printed, page=page), "png", 1) or None


def _typeset(printed: Printed, media: Literal["pdf", "png"], page: int) -> bytes:
    package = files("wrung_service")
    parts = ("api/cards/typesetter.py", "pages/cards/cards.typ", "pages/fonts")
    with ExitStack() as opened, _ONE_AT_A_TIME:
        places = [opened.enter_context(as_file(package.joinpath(part))) for part in parts]
        command = [sys.executable, "-P", *map(str, places), media, str(page)]
        return _output_of(command, _lettered(msgspec.json.encode(printed)))


def _lettered(given: bytes) -> bytes:
    """With a box where the fonts have nothing, and signs and their accents as one."""
    return _WITHOUT_GLYPH.sub("\u25a1", unicodedata.normalize("NFC", given.decode())).encode()


def _output_of(command: Sequence[str], given: bytes) -> bytes:
    """What the typesetter writes.

    Raises:
        BusyError: the machine had no room for it, for now: no CPU time, process or memory.
    """
    try:
        return subprocess.run(  # noqa: S603 - our own program
            command, input=given, stdout=subprocess.PIPE, check=True, timeout=PATIENCE_S
        ).stdout
    except subprocess.TimeoutExpired:
        raise BusyError("The typesetter got too little CPU time.", PATIENCE_S) from None
    except OSError as error:
        raise BusyError("The typesetter could not be started.", _RETRY_S) from error
    except subprocess.CalledProcessError as ended:
        # By the kernel for want of memory, or by an operator; its own faults end it otherwise.
        if -ended.returncode in _FROM_OUTSIDE:
            raise BusyError("The typesetter was ended from outside.", _RETRY_S) from None
        raise
