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


def with_grade(name: str | None, grade: str | None, words: Mapping[str, str]) -> str:
    """A set, and the grade of its blocks as such: by itself a grade 1 would be any number."""
    said = grade and words["grade"].format(grade=grade)
    return ", ".join(filter(None, (name, said)))
