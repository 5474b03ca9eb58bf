"""The document with all that the service accepts: it leaves out numbers in place of text.

So that a generator makes one type of a length, the document says text alone, and only in words that
a JSON number is accepted as well. Whoever makes up requests to be refused must know of it.
"""

import copy
from typing import Any, Final, TypeAlias

Json: TypeAlias = Any

_UNSIGNED: Final = ("Length", "Angle")
_SIGNED: Final = ("SignedLength", "SignedDecimal")


def with_numbers(document: Json) -> Json:
    """A copy in which a number may stand wherever the service takes one; without cursors."""
    wide = copy.deepcopy(document)
    for methods in wide["paths"].values():
        for operation in methods.values():
            parameters = operation.get("parameters", [])
            # Which cursors the service gave, no schema can say.
            parameters[:] = [each for each in parameters if each["name"] != "cursor"]
    schemas = wide["components"]["schemas"]
    for name in (*_UNSIGNED, *_SIGNED):
        schemas[name]["type"] = ["string", "number"]
    for name in _UNSIGNED:
        # Of a number the service reads the sign before anything else.
        schemas[name]["minimum"] = 0
    for name in ("CertificateJson", "CertificateBlock"):
        for member in schemas[name]["properties"].values():
            if member.get("type") == ["string", "null"]:
                member["type"] = ["string", "number", "null"]
    return wide
