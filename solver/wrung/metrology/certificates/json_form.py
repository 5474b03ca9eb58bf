"""Certificates as JSON.

```json
{"unit": "mm", "certificate": "2026-0417", "laboratory": "Example Calibration",
 "calibrated_on": "2026-03-31", "due_on": "2027-03-31", "coverage_factor": 2,
 "blocks": [{"id": "K1/1.005", "nominal": "1.005", "deviation": "0.03",
             "expanded_uncertainty": "0.05"}]}
```

What stands beside ``blocks`` holds for every block that does not state it itself. The members of a
block are those of `COLUMNS`, beside the blocks those of `SHARED`. Figures are decimal text, or
numbers, which are taken by their digits.
"""

import re
from codecs import BOM_UTF8
from collections.abc import Iterator, Mapping
from typing import Final

import msgspec
from msgspec import Raw

from wrung.checked_types import typed
from wrung.json_reasons import reason
from wrung.lengths import Unit, without_exponent
from wrung.metrology.certificates.assembling import assemble, unknown
from wrung.metrology.certificates.limits import LONGEST_TEXT, MOST_BLOCKS, MOST_BYTES
from wrung.metrology.certificates.report import CertificateImport, UnreadableError, few, refusing
from wrung.metrology.certificates.stated import COLUMNS, Stated

_OF_ONE_BLOCK: Final = ("id", "nominal", "deviation", "variation", "serial")
SHARED: Final = tuple(name for name in COLUMNS if name not in _OF_ONE_BLOCK)
"""What may stand beside the blocks and then holds for all of them."""
_NO_TEXT: Final = f"must be a number, or text of at most {LONGEST_TEXT} characters."


@typed
@refusing("json")
def read_json(data: bytes, *, unit: Unit = "mm") -> CertificateImport:
    """Read certified blocks from JSON.

    Args:
        data: the document.
        unit: unit of blocks where the document names none.
    """
    if len(data) > MOST_BYTES:
        raise UnreadableError(f"is larger than {MOST_BYTES} bytes.")
    at = "the document"
    try:
        document = msgspec.json.decode(data.removeprefix(BOM_UTF8), type=dict[str, Raw])
        at = "/blocks"
        blocks = msgspec.json.decode(document.get("blocks", Raw(b"[]")), type=list[dict[str, Raw]])
    except msgspec.ValidationError as error:
        # The only thing that can be wrong at a place further in is a block.
        index = "".join(f"/{found}" for found in re.findall(r"\[(\d+)\]", str(error)))
        raise UnreadableError(f"{reason(error)}.", at + index) from None
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise UnreadableError(f"is not JSON: {error}.") from None
    if len(blocks) > MOST_BLOCKS:
        raise UnreadableError(f"has more than {MOST_BLOCKS} blocks.", "/blocks")
    unread = [
        *(f"/{name}" for name in document if name not in (*SHARED, "blocks")),
        *(f"/blocks/{i}/{n}" for i, block in enumerate(blocks) for n in block if n not in COLUMNS),
    ]
    ignored = few(unread, lambda at: unknown(at[:80], at.rpartition("/")[2]))
    return assemble("json", tuple(_stated(document, blocks)), unit=unit, ignored=ignored)


def _stated(document: Mapping[str, Raw], blocks: list[dict[str, Raw]]) -> Iterator[Stated]:
    shared = _texts(document, SHARED, "")
    for index, block in enumerate(blocks):
        at = f"/blocks/{index}"
        own = _texts(block, COLUMNS, at)
        # The block's own goes last, and so before what is shared.
        yield Stated(location=at, **(_without_uncertainty(shared, own) | own))


def _without_uncertainty(shared: dict[str, str], own: dict[str, str]) -> dict[str, str]:
    """What is shared, less the uncertainty where the block states its own in whichever way."""
    uncertainties = {
        "expanded_uncertainty",
        "expanded_uncertainty_per_length",
        "standard_uncertainty",
    }
    # Two uncertainties of different kinds would be read as one, with a factor that nobody gave.
    if uncertainties.isdisjoint(own):
        return shared
    return {name: text for name, text in shared.items() if name not in uncertainties}


def _texts(members: Mapping[str, Raw], names: tuple[str, ...], at: str) -> dict[str, str]:
    found = {n: _text(members[n], f"{at}/{n}") for n in names if n in members}
    return {name: text for name, text in found.items() if text is not None}


def _text(raw: Raw, at: str) -> str | None:
    """The text, or the digits of a number; None for null and for text without characters."""
    data = bytes(raw)
    if data == b"null":
        return None
    if not data.startswith(b'"'):
        # Digits are taken as written: as a float, 0.1 would no longer be exact.
        if not data[:1].isdigit() and not data.startswith(b"-"):
            raise UnreadableError(_NO_TEXT, at)
        return without_exponent(data.decode())
    try:
        text = msgspec.json.decode(data, type=str)
    except (msgspec.DecodeError, UnicodeDecodeError):
        raise UnreadableError(_NO_TEXT, at) from None
    # Here, as what a block states itself hides what is shared from all later checks.
    if len(text) > LONGEST_TEXT:
        raise UnreadableError(_NO_TEXT, at)
    return text.strip() or None
