"""The words of the crib's pages."""

import tomllib
from importlib.resources import files

from wrung_service.usecases.shelf.rows import COLUMNS


def test_both_languages_have_the_same_words() -> None:
    folder = files("wrung_service").joinpath("pages", "crib")
    english, german = (
        tomllib.loads(folder.joinpath(f"{name}.toml").read_text(encoding="utf-8"))["words"]
        for name in ("en", "de")
    )
    assert english.keys() == german.keys()
    assert {f"member.{each}" for each in COLUMNS} <= english.keys()
