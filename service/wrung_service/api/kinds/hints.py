"""Looks into the type annotations of the library's kinds of target."""

from collections.abc import Iterable
from types import NoneType, UnionType
from typing import Annotated, Final, Union, get_args, get_origin

from msgspec import Meta, Struct

from wrung.measures import Measure
from wrung.targets.base import LIBRARY_ONLY
from wrung_service.api.kinds.shapes import Hint

# Types are made here while the program runs, which a type checker cannot follow.
_ANNOTATED: Final[Hint] = Annotated
_TUPLE: Final[Hint] = tuple

_SMALL: Final = "In the small unit, µm or µin."
_UNITS: Final[dict[Measure, str]] = {
    Measure.DEVIATION: _SMALL,
    Measure.MARGIN: _SMALL,
    Measure.DIFFERENCE: "In the unit, mm or in.",
    Measure.TEMPERATURE: "In the `temperature_unit`.",
}
"""What a description says of a number whose unit is not plain: lengths are in the unit."""


def measure_of(hint: Hint) -> Measure | None:
    """What a number of that type measures, optional or not; None if it is no measured number."""
    if is_annotated(hint):
        found = (each for each in get_args(hint)[1:] if isinstance(each, Measure))
        return next(found, None) or measure_of(bare(hint))
    return measure_of(without_none(hint)) if is_optional(hint) else None


def description_of(hint: Hint) -> Meta:
    """Description and examples of a member with its unit, without its other constraints."""
    metas = [each for each in get_args(hint)[1:] if isinstance(each, Meta)]
    found = next((each for each in metas if each.description), Meta())
    measure = measure_of(hint)
    said = [found.description, None if measure is None else _UNITS.get(measure)]
    description = " ".join(each for each in said if each) or None
    # Constraints are those of the library's number; on the wire there may be text.
    return Meta(description=description, examples=found.examples)


def is_library_only(hint: Hint) -> bool:
    """Whether a member has no place on the wire."""
    return LIBRARY_ONLY in get_args(hint)[1:]


def is_annotated(hint: Hint) -> bool:
    """Whether it carries annotations."""
    origin: Hint = get_origin(hint)
    return origin is Annotated


def bare(hint: Hint) -> Hint:
    """The type without its own annotations; those of its parts stay."""
    return hint.__origin__ if is_annotated(hint) else hint


def annotated(hint: Hint, meta: Meta) -> Hint:
    """The type with an annotation."""
    return _ANNOTATED[hint, meta]


def tuple_of(hint: Hint) -> Hint:
    """A tuple of any number of elements of a type."""
    return _TUPLE[hint, ...]


def union_of(hints: Iterable[Hint]) -> Hint:
    """The union of all these types."""
    first, *rest = hints
    for each in rest:
        first = first | each
    return first


def is_optional(hint: Hint) -> bool:
    """Whether None is allowed."""
    origin: Hint = get_origin(hint)
    # ``Optional[int]`` and ``int | None`` have different origins.
    return origin in (Union, UnionType) and NoneType in get_args(hint)


def core(hint: Hint) -> Hint:
    """The type under annotations and None; a union of several stays one."""
    if is_annotated(hint):
        return core(bare(hint))
    if is_optional(hint):
        rest = without_none(hint)
        return core(rest)
    return hint


def without_none(hint: Hint) -> Hint:
    """The type that is allowed beside None."""
    return union_of(each for each in get_args(hint) if each is not NoneType)


def element_of(hint: Hint) -> Hint | None:
    """The type of the elements of a tuple; None for anything else."""
    inner = core(hint)
    origin: Hint = get_origin(inner)
    return get_args(inner)[0] if origin is tuple else None


def struct_of(hint: Hint) -> type[Struct] | None:
    """The Struct under annotations and None; None for anything else."""
    inner = core(hint)
    return inner if isinstance(inner, type) and issubclass(inner, Struct) else None
