"""Gives a name to what many members share, so that generated clients have one type for it.

msgspec writes every length and every enumeration out where it is used. A generator would then make
a type for each place, and each of them would be another type.
"""

from collections.abc import Iterable, Mapping
from typing import Any, Final, TypeAlias, cast

from wrung_service.api.enumerations import ENUMERATIONS, values_of

Json: TypeAlias = Any
Document: TypeAlias = dict[str, Any]

_REF: Final = "#/components/schemas/"
_ABOUT: Final[tuple[str, ...]] = ("description", "examples", "default")
"""What is said of a member itself, not of its type."""
_NUMBERS_TOO: Final = (
    "A JSON number is accepted as well and taken by its digits, but programs should send text: "
    "many JSON libraries round numbers."
)
_DESCRIPTIONS: Final[Mapping[str, str]] = {
    "Length": f"A length that is not negative, as decimal text without a unit. {_NUMBERS_TOO}",
    "SignedLength": f"A length with or without a sign, as decimal text. {_NUMBERS_TOO}",
    "Decimal": f"A figure that is not negative, as decimal text. {_NUMBERS_TOO}",
    "SignedDecimal": f"A figure with or without a sign, as decimal text. {_NUMBERS_TOO}",
    "Angle": (
        "An angle, as decimal degrees, as degrees, minutes and seconds, or in radians. "
        f"{_NUMBERS_TOO}"
    ),
    "DecimalText": "A decimal number of an answer: plain digits, never an exponent.",
}
_GROWS: Final = "Further values may be added within `/v1`; treat one that you do not know as such."
_FIXED: Final = "No further values will be added within `/v1`."
_NAMES: Final = {frozenset(values_of(each)): each for each in ENUMERATIONS}
_NULL: Final = {"type": "null"}


def name_components(schemas: Document) -> Document:
    """The schemas with references to new components; these are among the result, too."""
    named: Document = {}
    own = {name: _members_named(schema, named) for name, schema in schemas.items()}
    return dict(sorted({**own, **named}.items()))


def name_schema(schema: Mapping[str, Any]) -> Document:
    """A schema outside the components, with references to them."""
    return cast("Document", _named(dict(schema), {}))


def _members_named(schema: Document, named: Document) -> Document:
    """The title of a component is its own name, so only what is in it is looked at."""
    return {key: _named(value, named) for key, value in schema.items()}


def _named(schema: Json, named: Document) -> Json:
    if isinstance(schema, list):
        return [_named(each, named) for each in cast("Iterable[Json]", schema)]
    if not isinstance(schema, dict):
        return schema
    found = {
        key: value if key in ("enum", *_ABOUT[1:]) else _named(value, named)
        for key, value in cast("Document", schema).items()
    }
    if isinstance(found.get("title"), str):
        return _replaced(found, found["title"], named)
    if isinstance(found.get("enum"), list):
        return _enumeration(found, named)
    if isinstance(found.get("anyOf"), list):
        return _alternatives(found)
    return found


def _replaced(schema: Document, name: str, named: Document) -> Document:
    """A reference in place of the schema, with what is said of the member."""
    kind = schema["type"]
    null = "null" in kind
    own = {key: value for key, value in schema.items() if key not in (*_ABOUT, "title")}
    own["type"] = next(each for each in kind if each != "null") if null else kind
    named[name] = {"title": name, "description": _DESCRIPTIONS[name], **own}
    about = {key: schema[key] for key in _ABOUT if key in schema}
    reference = {"$ref": f"{_REF}{name}"}
    return {**about, "anyOf": [reference, _NULL]} if null else {**about, **reference}


def _enumeration(schema: Document, named: Document) -> Document:
    values = schema["enum"]
    known = _NAMES.get(frozenset(values))
    if known is None or len(values) == 1:
        return {**schema, "type": "string"}
    text = f"{known.description} {_GROWS if known.grows else _FIXED}"
    named[known.name] = {
        "title": known.name,
        "description": text,
        "type": "string",
        "enum": [*values_of(known)],
    }
    about = {key: schema[key] for key in _ABOUT if key in schema}
    return {**about, "$ref": f"{_REF}{known.name}"}


def _alternatives(schema: Document) -> Document:
    """One level of alternatives, with what is said of them said once, of the member."""
    flat: list[Document] = []
    for each in schema["anyOf"]:
        flat += each.get("anyOf", [each])
    others = [each for each in flat if each != _NULL]
    null = [_NULL] if _NULL in flat else []
    about: Document = {}
    if len(others) == 1:
        (one,) = others
        about = {key: one[key] for key in _ABOUT if key in one}
        others = [{key: value for key, value in one.items() if key not in _ABOUT}]
    rest = {key: value for key, value in schema.items() if key != "anyOf"}
    return {**about, **rest, "anyOf": [*others, *null]}
