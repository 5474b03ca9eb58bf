"""Member names say what they hold: none is an adverb, a preposition, a number or a bare verb."""

import json
import pkgutil
from collections.abc import Iterator
from importlib import import_module
from inspect import isclass
from pathlib import Path
from typing import Any, TypeAlias

import pytest
from msgspec import Struct

import wrung

Json: TypeAlias = Any

DOCUMENT = json.loads((Path(__file__).parents[2] / "service" / "openapi.json").read_text())

# Such words say something of a thing, or do something to it, and leave out which thing.
SILENT = {
    *("about", "above", "accept", "add", "adding", "below", "better", "built", "compared"),
    *("expanded", "given", "good_enough", "inside", "off", "offered", "one", "ones", "reached"),
    *("restored", "smallest", "sound", "subtracting", "there", "twice", "two", "wanted", "wear"),
    *("where", "within"),
}


def members_of_the_document() -> Iterator[tuple[str, str]]:
    """Each member of a schema."""
    for name, schema in DOCUMENT["components"]["schemas"].items():
        for member in schema.get("properties", {}):
            yield name, member


def members_of_public_structs() -> Iterator[tuple[str, str]]:
    """Each member of a Struct of the library, but for what `wrung.planning` keeps to itself."""
    for found in pkgutil.walk_packages(wrung.__path__, "wrung."):
        if found.name.startswith("wrung.planning"):
            continue
        for name, value in vars(import_module(found.name)).items():
            own = isclass(value) and value.__module__ == found.name and not name.startswith("_")
            if own and issubclass(value, Struct):
                for member in value.__struct_fields__:
                    yield f"{found.name}.{name}", member


def test_members_of_the_document_say_what_they_hold() -> None:
    assert [pair for pair in members_of_the_document() if pair[1] in SILENT] == []


def test_members_of_public_structs_say_what_they_hold() -> None:
    assert [pair for pair in members_of_public_structs() if pair[1] in SILENT] == []


def values(schema: Json) -> Iterator[str]:
    """Every value that an enumeration allows."""
    for key, value in schema.items() if isinstance(schema, dict) else enumerate(schema):
        if key == "enum":
            yield from map(str, value)
        elif isinstance(value, dict | list):
            yield from values(value)


@pytest.mark.parametrize("word", ["sound", "off", "less_error", "right_length", "expanded"])
def test_no_value_is_a_word_of_our_own(word: str) -> None:
    assert word not in set(values(DOCUMENT["components"]["schemas"]))
