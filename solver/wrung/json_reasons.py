"""Why a JSON value cannot be taken, in the words of JSON: "an array", never a type of Python."""

import re
from typing import Final

import msgspec

_KINDS: Final = {
    "array": "an array",
    "bool": "true or false",
    "float": "a number",
    "int": "an integer",
    "null": "null",
    "object": "an object",
    "str": "a string",
}
_COUNTED: Final = {"array": "element", "object": "member", "str": "character"}
_GIVEN: Final = {**_KINDS, "bool": "a truth value", "float": "a number", "int": "a number"}
_EXPECTED: Final = re.compile(
    r"Expected `(?P<kinds>[^`]+)`(?: (?P<of>of length )?(?P<limit>[<>=]+) (?P<most>[0-9.e+-]+))?"
    r"(?:, got `(?P<given>\w+)`)?"
)
_LIMITS: Final = {">=": "at least", "<=": "at most", ">": "more than", "<": "less than"}


def reason(error: msgspec.ValidationError) -> str:
    """The decoder's sentence about a value, without its place; other sentences stay as they are."""
    text = str(error).partition(" - at `")[0]
    found = _EXPECTED.fullmatch(text)
    if found is None:
        return f"{text[:1].lower()}{text[1:]}"
    kinds = found["kinds"].split(" | ")
    wanted = " or ".join(_KINDS.get(kind, kind) for kind in kinds)
    if found["limit"]:
        return f"must be {wanted} of {_limit(found, kinds[0])}"
    given = _GIVEN.get(found["given"] or "", "something else")
    # An integer was wanted and 1.5 is a number: without "not a number", which it is.
    return f"must be {wanted}, not {given}" if given not in wanted else f"must be {wanted}"


def _limit(found: re.Match[str], kind: str) -> str:
    least = f"{_LIMITS[found['limit']]} {found['most'].removesuffix('.0')}"
    if not found["of"]:
        return least
    return f"{least} {_COUNTED[kind]}{'' if found['most'] == '1' else 's'}"
