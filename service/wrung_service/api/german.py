"""Problems in German, for whoever asks for it with ``Accept-Language``.

Problems arise all over the code, the library included, and are said in English there. Here they are
put into German on their way out, by the sentences of ``problems_de.toml``: so nobody who refuses
something has to know who asks. Figures have a decimal comma there, but for those quoted as they
were sent. What has no German there stays English.
"""

import re
import tomllib
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import Final, Literal

from msgspec import Struct
from msgspec.structs import replace

from wrung_service.api.problems import Problem, Refusal

_MORE: Final = re.compile(r"(?P<said>.*?)( \((?P<more>[0-9]+) more, see errors\))?\.?", re.DOTALL)
# Not in an id such as metric-0.5.
_FIGURE: Final = re.compile(r"(?<![\w.'\"/])(?<!\w-)([0-9]+)\.([0-9]+)(?![\w.])")
_QUOTED: Final = re.compile(r"'[^']*'")
_POINTED: Final = re.compile(r"(?P<at>/\S*|The body): (?P<said>.*)", re.DOTALL)

_LINE: Final = re.compile(r"line (?P<at>[0-9]+(, \w+)?)((?P<colon>:?) (?P<said>.*))?", re.DOTALL)
"""A place in a CSV, and what is wrong there: that may have commas and colons of its own."""


class _Sentence(Struct, frozen=True):
    english: re.Pattern[str]
    german: str


def wants_german(accept_language: str) -> bool:
    """Whether a header prefers German to English (RFC 9110, 12.5.4); English if it says neither."""
    return preferred_language(accept_language) == "de"


def preferred_language(accept_language: str) -> Literal["en", "de"] | None:
    """Which of the two a header prefers; None if neither."""
    weights = {"en": 0.0, "de": 0.0}
    for part in accept_language.lower().split(","):
        tag, _, weight = part.strip().partition(";q=")
        language = tag.strip().partition("-")[0]
        if language in weights:
            weights[language] = max(weights[language], _weight(weight))
    german, english = weights["de"], weights["en"]
    return None if german == english else "de" if german > english else "en"


def german_problem(problem: Problem, refusal: Refusal) -> Problem:
    """The problem of a refusal in German."""
    return replace(
        problem,
        title=german_title(refusal.kind.name, problem.title),
        detail=refusal.german or german_detail(problem.detail),
        errors=tuple(replace(each, detail=german(each.detail)) for each in problem.errors),
    )


def german_title(name: str, english: str) -> str:
    """The title of a kind of problem."""
    return _table()["titles"].get(name, english)


def german_detail(detail: str) -> str:
    """What went wrong, with the place it went wrong at, and how much more there is."""
    found = _MORE.fullmatch(detail)
    said, more = (found["said"], found["more"]) if found else (detail, None)
    after = f" ({more} weitere, siehe errors)" if more else ""
    return f"{_begun(said, detail).removesuffix('.')}{after}."


def _begun(said: str, whole: str) -> str:
    """In German, also what stands in the middle of sentences elsewhere, or is a whole one."""
    if _POINTED.fullmatch(said):
        return german(said)
    within = said[:1].lower() + said[1:]
    text = _said(within, said, whole) or german(within if _LINE.fullmatch(within) else said)
    return f"{text[:1].upper()}{text[1:]}" if said[:1].isupper() else text


def in_language(english: str, language: str) -> str:
    """What arises in English, in the language of whoever reads it; it may end with a full stop."""
    if language != "de":
        return english
    said = english.removesuffix(".")
    return f"{german_detail(english).removesuffix('.')}{english[len(said) :]}"


def german(text: str) -> str:
    """The text in German; as it is, but for its figures, if there is none.

    What is quoted are the words of whoever asks.
    """
    if _QUOTED.fullmatch(text):
        return text
    if pointed := _POINTED.fullmatch(text):
        return f"{german(pointed['at'])}: {german(pointed['said'])}"
    if (said := _said(text)) is not None:
        return said
    if placed := _LINE.fullmatch(text):
        if placed["said"] is None:
            return f"Zeile {placed['at']}"
        colon = ":" if placed["colon"] or "," in placed["at"] else ""
        return f"Zeile {placed['at']}{colon} {german(placed['said'])}"
    return text if "'" in text else _FIGURE.sub(r"\1,\2", text)


def _said(*texts: str) -> str | None:
    """German for the one of these that is known by the most words; None if none is known."""
    words = _table()["words"]
    for text in texts:
        if (word := words.get(text)) is not None:
            return word
    for each in _sentences():
        for text in texts:
            if found := each.english.fullmatch(text):
                return each.german.format(*map(german, found.groups()))
    return None


def _weight(text: str) -> float:
    try:
        return float(text or 1)
    except ValueError:
        return 0.0


@cache
def _table() -> dict[str, dict[str, str]]:
    text = files("wrung_service.api").joinpath("problems_de.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


@cache
def _sentences() -> Sequence[_Sentence]:
    """Those that say the most in words of their own come first."""
    table = _table()
    found = [*table["details"].items(), *(w for w in table["words"].items() if "{}" in w[0])]
    found += [(_several(e), _several(g)) for e, g in found if _several(e) != e]
    found.sort(key=lambda each: -len(each[0].replace("{}", "")))
    return tuple(_Sentence(_pattern(english), german) for english, german in found)


def _several(sentence: str) -> str:
    """The same of several nearest names."""
    english = sentence.replace("the nearest known is", "the nearest known are")
    english = english.replace("the nearest found is", "the nearest found are")
    return english.replace("am nächsten kommt", "am nächsten kommen")


def _pattern(english: str) -> re.Pattern[str]:
    parts = [re.escape(part) for part in english.split("{}")]
    # What is put in may be quoted, and then holds whatever it likes.
    return re.compile("('[^']*'|.*?)".join(parts), re.DOTALL)
