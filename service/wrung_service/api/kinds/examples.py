"""A request and its answer for every kind of target, from the invented shop."""

from typing import Final, Literal

from msgspec import Struct

from wrung_service.api.kinds.wanted import KINDS
from wrung_service.api.operations import Example, example

FOLDER: Final = "kinds"


def kind_examples(part: Literal["request", "answer"]) -> dict[str, Example]:
    """By kind, the example in ``examples/kinds``, with the first sentence of the kind's words."""
    return {name_of(kind): example(_first(kind), file_of(kind, part)) for kind in KINDS}


def name_of(kind: type[Struct]) -> str:
    """What requests call the kind."""
    return str(kind.__struct_config__.tag)


def file_of(kind: type[Struct], part: str) -> str:
    """The example's name as `example` takes it."""
    return f"{FOLDER}/{name_of(kind)}-{part}"


def _first(kind: type[Struct]) -> str:
    return (kind.__doc__ or "").splitlines()[0].rstrip(".")
