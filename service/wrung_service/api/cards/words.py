"""The words of cards and set-up sheets."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files


@cache
def words_of(language: str) -> Mapping[str, str]:
    """All of them, by their keys."""
    path = files("wrung_service").joinpath("pages", "cards", f"{language}.toml")
    words: Mapping[str, str] = tomllib.loads(path.read_text(encoding="utf-8"))["words"]
    return words
