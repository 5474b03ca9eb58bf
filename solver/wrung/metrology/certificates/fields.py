"""Single fields of a certificate: from text to a value, or a refusal that says why."""

import re
from datetime import date
from decimal import Decimal
from math import ceil
from typing import Final

from wrung.errors import LengthError
from wrung.lengths import (
    DECIMAL_COMMA,
    QUANTA,
    UNSIGNED_PATTERN,
    AnyUnit,
    has_decimal_comma,
    parse,
    plain,
)
from wrung.metrology.certificates.limits import LONGEST_TEXT
from wrung.metrology.certificates.report import Remark

_NUMBER: Final = re.compile(r"-?[0-9]{1,6}(\.[0-9]{1,9}0{0,20})?")
_CONTROL: Final = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029]")
_UNSIGNED: Final = re.compile(UNSIGNED_PATTERN)
_DATE: Final = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


class FieldReader:
    """Reads the fields of one block and gathers what is wrong with them."""

    def __init__(self, where: str) -> None:
        self._where = where
        self.refused: list[Remark] = []

    def refuse(self, field: str, text: str) -> None:
        """Note that a field cannot be taken."""
        self.refused.append(Remark(location=f"{self._where}, {field}", text=text))

    def length(
        self, field: str, text: str | None, unit: AnyUnit, *, signed: bool = False
    ) -> int | None:
        """A length, quanta."""
        if text is None:
            return None
        try:
            return parse(text, unit, signed=signed)
        except LengthError as error:
            self.refuse(field, f"{error}.")
            return None

    def bound(self, field: str, text: str | None, unit: AnyUnit) -> int | None:
        """An uncertainty or a variation, quanta.

        One that is no whole number of them, such as 2.87 µin, is rounded up: that adds less than
        0.01 nm, and promises nothing.
        """
        if text is None or not _UNSIGNED.fullmatch(text):
            return self.length(field, text, unit)
        return ceil(Decimal(plain(text)) * QUANTA[unit])

    def number(
        self, field: str, text: str | None, *, least: float = 0.0, most: float = 1e6
    ) -> float | None:
        """A plain number from ``least`` to ``most``."""
        if text is None:
            return None
        text = plain(text)
        # Before float reads it, which also takes nan, inf and 1_000.
        if not _NUMBER.fullmatch(text):
            why = DECIMAL_COMMA if has_decimal_comma(text) else "is not a plain number"
            self.refuse(field, f"{text[:40]!r} {why}.")
            return None
        if float(text) < least:
            self.refuse(field, f"{text} is less than {least:g}.")
            return None
        if float(text) > most:
            self.refuse(field, f"{text} is more than {most:g}.")
            return None
        return float(text)

    def day(self, field: str, text: str | None) -> date | None:
        """A calendar day."""
        if text is None:
            return None
        try:
            # By pattern first, as fromisoformat also reads weeks and days without hyphens.
            if _DATE.fullmatch(text):
                return date.fromisoformat(text)
        except ValueError:
            pass
        self.refuse(field, f"{text[:40]!r} is not a day such as 2026-03-31.")
        return None

    def name(self, field: str, text: str | None) -> str | None:
        """A short, printable text."""
        if text is None:
            return None
        if len(text) > LONGEST_TEXT or _CONTROL.search(text):
            self.refuse(field, f"must be printable and have at most {LONGEST_TEXT} characters.")
            return None
        return text
