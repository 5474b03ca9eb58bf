"""What is typed into the field for a length: decimals, fractions, angles, as people write them."""

import re
from fractions import Fraction
from typing import Final, Literal, TypeAlias

from msgspec import Struct
from msgspec.structs import replace

from wrung.lengths import LONGEST, QUANTA, Unit, parse, to_text

State: TypeAlias = Literal["empty", "length", "angle", "unfinished", "wrong"]

_NUMBER: Final = r"(?:\d{1,9}(?:[.,]\d{0,60})?|[.,]\d{1,60})"
_UNITS: Final[dict[str, Unit]] = {"mm": "mm", "in": "in", "inch": "in", "zoll": "in", '"': "in"}
_UNIT: Final = re.compile(r'(?<=[\d.,])\s*(mm|inch|in|zoll|")$', re.IGNORECASE)
_DECIMAL: Final = re.compile(_NUMBER)
_FRACTION: Final = re.compile(r"(?:(\d{1,9})[ -]+)?(\d{1,9})/(\d{1,9})")
_ALLOWED: Final = re.compile(r"\s*(?:±|\+/?-)\s*")
_PART_OF_FRACTION: Final = re.compile(r"\d{1,9}(?:[ -]+(?:\d{1,9}/?)?|/)")
_ANGLE: Final = re.compile(rf"({_NUMBER})°\s*(?:({_NUMBER})(?:'|$)\s*)?(?:({_NUMBER})(?:\"|$))?")
# What phones and word processors make of ', ", ° and fractions.
_SIGNS: Final = str.maketrans(
    {"′": "'", "’": "'", "″": '"', "”": '"', "º": "°", "\u00a0": " ", "\u202f": " "}
    | {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
    | {"\N{FRACTION SLASH}": "/"}
)
_IN_LETTERS: Final = re.compile(rf"{_NUMBER}\s*d(?:eg)?(?![a-z])", re.IGNORECASE)
_LETTER: Final = re.compile(r"(?<=[\d.,])\s*([dms])(?:eg|in|ec)?(?![a-z])", re.IGNORECASE)
_SIGN_OF: Final = {"d": "°", "m": "'", "s": '"'}
"""``14d15m`` and ``14 deg 15 min``, as angles may be written in requests, too."""
_FULL: Final = 60


class Entered(Struct, frozen=True, kw_only=True):
    """What was understood of a text.

    Attributes:
        state: ``unfinished`` may become something; ``wrong`` says in ``fault`` why it cannot.
        text: the length as decimal text in ``unit``, or the angle in degrees, minutes, seconds.
        unit: of the length.
        allowed: how far, in quanta, the stack may be from it on either side.
        fault: the key of a sentence.
        offers: texts that may have been meant instead.
    """

    state: State
    text: str = ""
    unit: Unit = "mm"
    allowed: int = 0
    fault: str = ""
    offers: tuple[str, ...] = ()


def entered(text: str, unit: Unit) -> Entered:
    """What is meant by a text typed where lengths are in a unit."""
    plain = text.translate(_SIGNS).replace("''", '"').strip()
    wanted, allows, allowed = _parted(plain)
    return _allowing(wanted, allowed, unit) if allows else _entered(wanted, unit)


def _parted(plain: str) -> tuple[str, bool, str]:
    """The length, whether something is allowed beside it, and what."""
    wanted, *allowed = _ALLOWED.split(plain, maxsplit=1)
    if not allowed:
        return plain, False, ""
    stated = _UNIT.search(allowed[0])
    # A unit at the end is that of both.
    behind = stated[0] if stated and not _UNIT.search(wanted) else ""
    return wanted + behind, True, allowed[0]


def _allowing(wanted: str, allowed: str, unit: Unit) -> Entered:
    length = _entered(wanted, unit)
    if length.state != "length":
        return length if length.fault else _wrong("allowed")
    difference = _entered(allowed, length.unit)
    if difference.state in ("empty", "unfinished"):
        return Entered(state="unfinished", unit=length.unit)
    if difference.state != "length":
        return _wrong(difference.fault or "allowed")
    return replace(length, allowed=parse(difference.text, difference.unit), offers=())


def _entered(plain: str, unit: Unit) -> Entered:
    if not plain:
        return Entered(state="empty", unit=unit)
    if _IN_LETTERS.match(plain):
        plain = _LETTER.sub(lambda found: _SIGN_OF[found[1].lower()], plain)
    if "°" in plain:
        return _angle(plain)
    stated = _UNIT.search(plain)
    if stated:
        unit, plain = _UNITS[stated[1].lower()], plain[: stated.start()]
    if fraction := _FRACTION.fullmatch(plain):
        return _fraction(fraction, unit)
    if _DECIMAL.fullmatch(plain):
        return _length(Fraction(_point(plain)), unit)
    return _not_understood(plain, unit)


def _angle(plain: str) -> Entered:
    found = _ANGLE.fullmatch(plain)
    if found is None:
        return _wrong("angle")
    degrees, minutes, seconds = (Fraction(_point(each or "0")) for each in found.groups())
    if minutes >= _FULL or seconds >= _FULL:
        return _wrong("sixty")
    total = degrees * 3600 + minutes * 60 + seconds
    whole, rest = divmod(total, 3600)
    whole_minutes, rest_seconds = divmod(rest, 60)
    written = f"{float(rest_seconds):.6f}".rstrip("0").rstrip(".")
    return Entered(state="angle", text=f"{whole}°{whole_minutes}'{written}\"")


def _fraction(found: re.Match[str], unit: Unit) -> Entered:
    whole, top, bottom = int(found[1] or 0), int(found[2]), int(found[3])
    if bottom == 0:
        return _wrong("nought")
    if found[1] and top >= bottom:
        return _wrong("top_heavy")
    if not _ends(bottom):
        return _wrong("no_end")
    return _length(whole + Fraction(top, bottom), unit, _gap_forgotten(found))


def _gap_forgotten(found: re.Match[str]) -> tuple[str, ...]:
    """Of 13/8 it may be that 1 3/8 was meant."""
    top, bottom = found[2], found[3]
    if found[1] or int(top) <= int(bottom) or len(top) < 2 or not 0 < int(top[-1]) < int(bottom):  # noqa: PLR2004 - two digits
        return ()
    return (f"{top[:-1]} {top[-1]}/{bottom}",)


def _ends(bottom: int) -> bool:
    """Whether a fraction over it has finitely many decimals."""
    for prime in (2, 5):
        while bottom % prime == 0:
            bottom //= prime
    return bottom == 1


def _length(value: Fraction, unit: Unit, offers: tuple[str, ...] = ()) -> Entered:
    quanta = value * QUANTA[unit]
    if quanta.denominator != 1:
        return _wrong("too_fine")
    if not quanta:
        return Entered(state="unfinished", unit=unit)
    if quanta > LONGEST:
        return _wrong("too_long")
    return Entered(state="length", text=to_text(int(quanta), unit), unit=unit, offers=offers)


def _not_understood(plain: str, unit: Unit) -> Entered:
    if _PART_OF_FRACTION.fullmatch(plain):
        return Entered(state="unfinished", unit=unit)
    if plain.startswith(("-", "\N{MINUS SIGN}")):
        return _wrong("negative")
    if "." in plain and "," in plain:
        return _wrong("two_signs")
    return _wrong("unfinished_sign" if plain in (".", ",") else "not_read")


def _wrong(fault: str) -> Entered:
    return Entered(state="wrong", fault=fault)


def _point(decimal: str) -> str:
    """With a point that has figures on both sides, as `Fraction` wants it."""
    whole, _, rest = decimal.replace(",", ".").partition(".")
    return f"{whole or '0'}.{rest or '0'}"
