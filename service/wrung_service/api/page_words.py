"""The words of pages, in two languages; commands say them, too, and have no templates."""

import tomllib
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from typing import Literal, TypeAlias

Language: TypeAlias = Literal["en", "de"]


def said_in(folder: str, language: str) -> Callable[..., str]:
    """Gives the words of a folder by their keys, with figures filled in."""
    words = words_of(folder, language)

    def said(key: str, **figures: object) -> str:
        return words[key].format_map(figures)

    return said


@cache
def words_of(folder: str, language: str) -> Mapping[str, str]:
    """All of them, by their keys."""
    path = files("wrung_service").joinpath("pages", folder, f"{language}.toml")
    words: Mapping[str, str] = tomllib.loads(path.read_text(encoding="utf-8"))["words"]
    return words
