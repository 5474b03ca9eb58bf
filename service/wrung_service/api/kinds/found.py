"""Results of targets: a Struct for the wire from each of the library's, and what goes into it."""

from collections.abc import Callable
from functools import cache
from typing import TypeAlias, get_type_hints

import msgspec
from msgspec import Struct

from wrung.targets import TargetResult
from wrung.texts import Phrase
from wrung_service.api.kinds.hints import (
    annotated,
    bare,
    description_of,
    element_of,
    is_optional,
    measure_of,
    struct_of,
    tuple_of,
    union_of,
)
from wrung_service.api.kinds.shapes import WIRES, Hint, Value
from wrung_service.api.kinds.wanted import KINDS
from wrung_service.api.words import Said, Words, said

_Write: TypeAlias = Callable[[Value, Words], Value]


def result_kinds() -> Hint:
    """The union of the results of all derived kinds."""
    return union_of(_found(result_of(kind)) for kind in KINDS)


def write_result(result: TargetResult, words: Words) -> Struct:
    """A result as it stands on the wire."""
    written: Struct = _write_struct(type(result))(result, words)
    return written


def result_of(kind: Value) -> type[Struct]:
    """The library's Struct of the results of a kind."""
    # What the method promises: there is no result to look at before a request comes.
    announced: type[Struct] = get_type_hints(kind.results)["return"]
    return announced


@cache
def _found(result: type[Struct]) -> type[Struct]:
    """The Struct on the wire of a result, or of a Struct in it."""
    config = result.__struct_config__
    # Cached, because a second Struct of one name would be a second schema in the document.
    return msgspec.defstruct(
        result.__name__,
        [(name, _hint(hint)) for name, hint in _hints(result).items()],
        namespace={"__doc__": result.__doc__},
        module=__name__,
        tag=config.tag,
        tag_field=config.tag_field,
        frozen=True,
        kw_only=True,
    )


def _hints(result: type[Struct]) -> dict[str, Hint]:
    hints = get_type_hints(result, include_extras=True)
    return {name: hints[name] for name in result.__struct_fields__}


def _hint(hint: Hint) -> Hint:
    inner = _inner(hint)
    whole = inner | None if is_optional(bare(hint)) else inner
    return annotated(whole, description_of(hint))


def _inner(hint: Hint) -> Hint:
    measure, element, struct = measure_of(hint), element_of(hint), struct_of(hint)
    if measure is not None:
        return WIRES[measure].hint
    if element is not None:
        return tuple_of(_inner(element))
    if struct is Phrase:
        return Said
    return hint if struct is None else _found(struct)


@cache
def _write_struct(result: type[Struct]) -> _Write:
    # Annotations are looked into once, not for each answer.
    writers = {name: _writer(hint) for name, hint in _hints(result).items()}
    found = _found(result)

    def write(value: Value, words: Words) -> Value:
        return found(
            **{name: writer(getattr(value, name), words) for name, writer in writers.items()}
        )

    return write


def _writer(hint: Hint) -> _Write:
    measure, element, struct = measure_of(hint), element_of(hint), struct_of(hint)
    if measure is not None:
        wire = WIRES[measure]
        return _unless_none(lambda value, words: wire.write(value, words.unit))
    if element is not None:
        each = _writer(element)
        return lambda values, words: tuple(each(value, words) for value in values)
    if struct is Phrase:
        return said
    if struct is not None:
        return _unless_none(_write_struct(struct))
    return lambda value, _: value


def _unless_none(write: _Write) -> _Write:
    return lambda value, words: None if value is None else write(value, words)
