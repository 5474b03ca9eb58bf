"""In which language a command speaks: as it is told, as the request says, or as the terminal is."""

import os
from collections.abc import Callable
from typing import Any, Final, TypeAlias

import click
import msgspec
from msgspec import Raw, Struct

from wrung.lengths import SMALL_UNIT, Unit
from wrung.rounding import at_most, read_text
from wrung.texts import SIGNS, Value, decimal_mark, figure, languages, phrase, word
from wrung_service.api.decoding import BYTE_ORDER_MARK
from wrung_service.api.german import in_language

Decorator: TypeAlias = Callable[[Callable[..., Any]], Callable[..., Any]]

_VARIABLES: Final = ("LC_ALL", "LC_MESSAGES", "LANG")
"""Of the terminal's language; the first that is set counts (POSIX.1-2017, 8.2)."""


def usual_language() -> str:
    """That of the terminal, if there are words in it; else English."""
    stated = next((os.environ[name] for name in _VARIABLES if os.environ.get(name)), "")
    return stated[:2] if stated[:2] in languages() else "en"


language_option: Final[Decorator] = click.option(
    "--language",
    type=click.Choice(("en", "de")),
    default=usual_language,
    help="Language of what is printed; that of the terminal if left out.",
)


class Spoken(Struct, frozen=True, kw_only=True):
    """What a command says, in one language and unit."""

    language: str = "en"
    unit: Unit = "mm"

    def say(self, key: str, **figures: Value) -> str:
        """The wording of a key with its figures."""
        given = (figure(name, value) for name, value in figures.items())
        return word(phrase(key, *given), self.language, self.unit)

    def number(self, text: str) -> str:
        """Decimal text with the decimal mark of the language."""
        return text.replace(".", decimal_mark(self.language))

    def length(self, text: str) -> str:
        """A length with its unit."""
        return f"{self.number(read_text(text, self.unit))} {self.unit}"

    def deviation(self, text: str) -> str:
        """A deviation with its small unit."""
        small = SMALL_UNIT[self.unit]
        return f"{self.number(read_text(text, small, 'result'))} {SIGNS[small]}"

    def error(self, text: str) -> str:
        """A bound of an error with its small unit."""
        return f"{self.number(at_most(text))} {SIGNS[SMALL_UNIT[self.unit]]}"

    def refusal(self, reason: str) -> str:
        """Why something is refused; reasons are English where they arise."""
        return in_language(reason, self.language)


ENGLISH: Final = Spoken()


class _Stated(Struct):
    language: str | None = None
    record: Raw = Raw()


def in_language_of(body: bytes, language: str) -> tuple[bytes, str]:
    """The body and its language: its own, or that of the command where it states none.

    A record stays as it is: the language of its request is part of what is checked.
    """
    plain = body.removeprefix(BYTE_ORDER_MARK)
    try:
        stated = msgspec.json.decode(plain, type=_Stated)
        if stated.language is not None:
            return body, stated.language if stated.language in languages() else language
        if language == "en" or bytes(stated.record)[:1] == b"{":
            return body, language
        members = msgspec.json.decode(plain, type=dict[str, Raw])
    # Whatever is wrong with it is said by whoever reads the body.
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return body, language
    members["language"] = Raw(msgspec.json.encode(language))
    return msgspec.json.encode(members), language
