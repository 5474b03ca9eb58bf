"""Why the service refuses what a page asks, in words for people: of what, and what is wrong."""

from collections.abc import Iterable, Mapping
from typing import Any, Final

import msgspec

from wrung.errors import Fault
from wrung_service.api.bench.words import BenchWords, words_in
from wrung_service.api.german import german
from wrung_service.api.page_words import Language
from wrung_service.api.problems import Refusal

_MOST: Final = 3


def in_words(refused: Refusal, body: bytes, language: Language) -> str:
    """The first faults, each with the target or the set that it is about."""
    asked = msgspec.json.decode(body)
    faults = refused.errors or (Fault(pointer="", detail=refused.detail),)
    said = dict.fromkeys(_said(each, asked, language) for each in faults)
    return " ".join([*said][:_MOST])


def _said(fault: Fault, asked: Mapping[str, Any], language: Language) -> str:
    detail = german(fault.detail) if language == "de" else fault.detail
    about = ", ".join(_about(fault.pointer.split("/")[1:], asked, words_in(language)))
    text = f"{about}: {detail}" if about else f"{detail[:1].upper()}{detail[1:]}"
    return f"{text.rstrip('.')}."


def _about(path: list[str], asked: Mapping[str, Any], words: BenchWords) -> Iterable[str]:
    if path[:1] == ["sets"] and path[1:]:
        yield asked["sets"][int(path[1])]["id"]
    elif path[:1] == ["targets"] and path[1:]:
        target = asked["targets"][int(path[1])]
        yield target["ref"]
        member = ".".join(each for each in path[2:] if not each.isdigit())
        if member and target["kind"] != "length":
            yield words.of_kinds("members", member, target["kind"])
