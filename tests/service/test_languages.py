"""Whoever asks for German gets German in everything that is in words, in every kind and option."""

import re

import pytest

from service.conftest import Client
from service.every_answer import asked, sentences, texts
from solver.handwork.test_texts import wordings

_WORD = re.compile(r"[^\W\d_]{3,}")
# The name of a standard is the same in every language.
_MARKUP = re.compile(r"<style>.*?</style>|<[^>]*>|\{\w+\}|B89\.1\.9|B4\.1", re.DOTALL)
_REQUESTS = {f"{name}, {unit}": (path, body) for unit in ("mm", "in") for name, path, body in
             asked(unit)}  # fmt: skip


def words(text: str) -> set[str]:
    return {each.lower() for each in _WORD.findall(_MARKUP.sub(" ", text))}


GERMAN = {each for text in wordings("de").values() for each in words(text)}
ENGLISH = {each for text in wordings("en").values() for each in words(text)} - GERMAN
"""Words of the English texts that are none of the German ones."""


@pytest.mark.parametrize("name", _REQUESTS)
def test_a_german_answer_has_no_english_word(client: Client, name: str) -> None:
    path, body = _REQUESTS[name]
    names = {each for _, text in sentences(body, {}) for each in words(text)}

    response = client.post(path, json={**body, "language": "de"})

    assert response.status_code == 200, response.text
    for at, text in sentences(response.json(), body):
        # Names from the request may be English: they are said as they are.
        assert not words(text) & (ENGLISH - names), f"{at}: {text}"


@pytest.mark.parametrize("name", _REQUESTS)
def test_a_german_answer_has_one_decimal_sign(client: Client, name: str) -> None:
    path, body = _REQUESTS[name]

    answer = client.post(path, json={**body, "language": "de"}).json()

    for at, text in sentences(answer, body):
        assert not re.search(r"\d\.\d", _MARKUP.sub(" ", text)), f"{at}: {text}"


def test_both_languages_say_the_same_things(client: Client) -> None:
    """Keys, codes and figures of members do not depend on the language."""
    for name, (path, body) in _REQUESTS.items():
        english, german = (
            client.post(path, json={**body, "language": language}).json()
            for language in ("en", "de")
        )

        assert [at for at, _ in texts(english)] == [at for at, _ in texts(german)], name
