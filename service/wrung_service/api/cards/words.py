"""The words of cards and set-up sheets."""

from collections.abc import Mapping

from wrung_service.api import page_words


def words_of(language: str) -> Mapping[str, str]:
    """All of them, by their keys."""
    return page_words.words_of("cards", language)


def with_grade(name: str | None, grade: str | None, words: Mapping[str, str]) -> str:
    """A set, and the grade of its blocks as such: by itself a grade 1 would be any number."""
    said = grade and words["grade"].format(grade=grade)
    return ", ".join(filter(None, (name, said)))
