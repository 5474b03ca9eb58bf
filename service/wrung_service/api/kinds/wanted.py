"""Targets of a request: a Struct for the wire from each of the library's, and the way back."""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from functools import cache
from typing import Final, TypeAlias, cast, get_args, get_type_hints

import msgspec
from msgspec import UNSET, Meta, Struct, UnsetType

from wrung.errors import LengthError
from wrung.measures import Measure
from wrung.targets import LengthTarget, Target
from wrung_service.api.faults import Faults, Path, pointer
from wrung_service.api.kinds.hints import (
    annotated,
    bare,
    core,
    description_of,
    element_of,
    is_library_only,
    is_optional,
    measure_of,
    struct_of,
    tuple_of,
    union_of,
)
from wrung_service.api.kinds.shapes import WIRES, Hint, Units, Value, Wire
from wrung_service.api.stacks.times import read_time
from wrung_service.api.texts import LABELS, Labels, Name, Time
from wrung_service.api.wire_lengths import NotALengthError

_Read: TypeAlias = Callable[[Value, Units, Path, Faults], Value]

KINDS: Final[tuple[type[Struct], ...]] = tuple(
    kind for kind in get_args(Target) if kind is not LengthTarget
)
"""The kinds that are derived; the plain length is written out, as most requests ask for it."""


@cache
def wanted(kind: type[Struct]) -> type[Struct]:
    """The Struct on the wire of one of the library's Structs."""
    hints = get_type_hints(kind, include_extras=True)
    fields = [_member(field, hints[field.name]) for field in _sent_fields(kind, hints)]
    if kind in KINDS:
        fields.append(("labels", annotated(Labels, Meta(description=LABELS)), {}))
    config = kind.__struct_config__
    # Cached, because a second Struct of one name would be a second schema in the document.
    made = msgspec.defstruct(
        f"Wanted{kind.__name__.removesuffix('Target')}",
        fields,
        # The document describes the kind by its docstring, up to the part that is only for Python.
        namespace={"__doc__": (kind.__doc__ or "").partition("\n\n    In Python")[0]},
        module=__name__,
        tag=config.tag,
        tag_field=config.tag_field,
        frozen=True,
        kw_only=True,
        forbid_unknown_fields=True,
    )
    _LIBRARY[made] = kind
    return made


_LIBRARY: Final[dict[type[Struct], type[Struct]]] = {}
"""The library's Struct for each Struct on the wire."""


def default_text(sent: type[Struct], name: str, units: Units) -> str | None:
    """What the library takes where a measured member is left out, as text; None for nothing."""
    kind = _LIBRARY.get(sent)
    if kind is None or name not in kind.__struct_fields__:
        return None
    field = next(each for each in msgspec.structs.fields(kind) if each.name == name)
    hint = get_type_hints(kind, include_extras=True)[name]
    wire, default = _wire(hint), field.default
    if wire is None or default in (None, msgspec.NODEFAULT):
        return None
    if measure_of(hint) is Measure.TEMPERATURE and units.degrees == "degF":
        default = default * 9 / 5 + 32
    written = wire.write(default, units.length)
    return written if isinstance(written, str) else str(getattr(written, "degrees", written))


def _sent_fields(kind: type[Struct], hints: Mapping[str, Hint]) -> list[msgspec.structs.FieldInfo]:
    """The members that have a place on the wire."""
    fields = msgspec.structs.fields(kind)
    return [field for field in fields if not is_library_only(hints[field.name])]


def wanted_kinds() -> Hint:
    """The union of all derived kinds."""
    return union_of(map(wanted, KINDS))


def read_wanted(kind: type[Struct], sent: Struct, units: Units, at: Path, faults: Faults) -> Target:
    """A target of the library from what was sent; what is wrong goes to ``faults``."""
    return cast("Target", _read_struct(kind)(sent, units, at, faults))


def kind_of(sent: Struct) -> type[Struct]:
    """The library's kind of a derived target."""
    return next(kind for kind in KINDS if isinstance(sent, wanted(kind)))


def _member(field: msgspec.structs.FieldInfo, hint: Hint) -> Value:
    """Name, type and default of a member on the wire."""
    wire, meta = _wire(hint), description_of(hint)
    if field.required:
        return (field.name, annotated(_required(hint), meta))
    if wire is not None:
        # In a `Raw` even null is text, so only UNSET can tell that the member was left out.
        received = annotated(wire.received(optional=True), meta)
        return (field.name, received | UnsetType, UNSET)
    return (field.name, annotated(_left_out(hint), meta), field.default)


def _wire(hint: Hint) -> Wire | None:
    measure = measure_of(hint)
    return None if measure is None else WIRES[measure]


def _required(hint: Hint) -> Hint:
    """The type of a member, or of an element, that must be there."""
    wire, element, struct = _wire(hint), element_of(hint), struct_of(hint)
    if wire is not None:
        return wire.received(optional=False)
    if element is not None:
        return annotated(tuple_of(_required(element)), _sizes(hint))
    if struct is not None:
        return wanted(struct)
    if core(hint) is str:
        return Name
    return Time if core(hint) is datetime else hint


def _left_out(hint: Hint) -> Hint:
    """The type of a member that may be left out; None stays allowed where it was."""
    if not is_optional(bare(hint)):
        return _required(hint)
    return bare(hint) if _required(hint) is hint else _required(hint) | None


def _sizes(hint: Hint) -> Meta:
    metas: Iterable[Meta] = (m for m in getattr(hint, "__metadata__", ()) if isinstance(m, Meta))
    return Meta(max_length=next((m.max_length for m in metas if m.max_length), None))


@cache
def _read_struct(kind: type[Struct]) -> _Read:
    hints = get_type_hints(kind, include_extras=True)
    readers = {
        field.name: _reader(hints[field.name], optional=not field.required)
        for field in _sent_fields(kind, hints)
    }

    def read(sent: Value, units: Units, at: Path, faults: Faults) -> Value:
        members = {
            name: reader(value, units, (*at, name), faults)
            for name, reader in readers.items()
            if (value := getattr(sent, name)) is not UNSET
        }
        return kind(**{name: value for name, value in members.items() if value is not _DEFAULT})

    return read


_DEFAULT: Final = object()
"""Stands for a member that was null or refused: the kind's own default is used, if it has one."""


def _reader(hint: Hint, *, optional: bool) -> _Read:
    wire, element, struct = _wire(hint), element_of(hint), struct_of(hint)
    if wire is not None:
        return _measured(wire, optional=optional)
    if element is not None:
        return _elements(_reader(element, optional=False))
    if struct is not None:
        return _unless_null(_read_struct(struct))
    return _time if core(hint) is datetime else _as_it_is


def _measured(wire: Wire, *, optional: bool) -> _Read:
    shape = wire.sent(optional=optional)

    def read(raw: Value, units: Units, at: Path, faults: Faults) -> Value:
        try:
            text = shape.text(raw)
            return _DEFAULT if text is None else wire.read(text, units)
        except NotALengthError as error:
            faults.invalid(at, str(error))
        except LengthError as error:
            faults.meaningless(pointer(at), str(error))
        # A number that was refused is replaced by one of its kind, so that reading goes on.
        return wire.read("1", units)

    return read


def _unless_null(read: _Read) -> _Read:
    def optional(sent: Value, units: Units, at: Path, faults: Faults) -> Value:
        return _DEFAULT if sent is None else read(sent, units, at, faults)

    return optional


def _elements(each: _Read) -> _Read:
    def read(sent: Value, units: Units, at: Path, faults: Faults) -> Value:
        return tuple(each(one, units, (*at, place), faults) for place, one in enumerate(sent))

    return read


def _time(sent: Value, _: Units, at: Path, faults: Faults) -> Value:
    return read_time(sent, at, faults)


def _as_it_is(sent: Value, _: Units, __: Path, ___: Faults) -> Value:
    return sent
