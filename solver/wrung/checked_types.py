"""Arguments of another type than they must be, refused by their name before they do harm.

Type checkers find these mistakes earlier; not everyone runs one, and a float for a length would go
through most of the arithmetic.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import cache, wraps
from operator import attrgetter
from types import NoneType, UnionType
from typing import (
    Annotated,
    Any,
    Final,
    Literal,
    NamedTuple,
    ParamSpec,
    TypeAlias,
    TypeVar,
    Union,
    Unpack,
    cast,
    get_args,
    get_origin,
    get_type_hints,
)

from msgspec import Struct

from wrung.errors import Fault, InputError
from wrung.keeping import kept

Hint: TypeAlias = Any
"""A type annotation; Python has no type for those."""

_P = ParamSpec("_P")
_R = TypeVar("_R")
_ANY_TARGET: Final = "a target"
_LENGTHS: Final = "; lengths are whole numbers of 0.01 nm, see wrung.mm and wrung.inch"


class CheckedStruct(Struct, frozen=True, kw_only=True):
    """A Struct that refuses members of another type when it is made.

    Raises:
        InputError: with a pointer to each such member.
    """

    def __post_init__(self) -> None:
        kind = type(self)
        members = _members(kind)
        # A shelf has a thousand blocks of a few patterns of types, so these are remembered.
        types = tuple(map(type, members.simple(self)))
        if types in members.passed and all(fits(getattr(self, n)) for n, fits in members.others):
            return
        values = {name: getattr(self, name) for name in kind.__struct_fields__}
        refuse_wrong(kind, values)
        members.passed.add(types)


def typed(function: Callable[_P, _R]) -> Callable[_P, _R]:
    """Let a function refuse arguments of another type, with an InputError that points to each.

    An iterator is empty when it is read again, and a list may change while a search goes on: the
    function gets a tuple in place of either.
    """
    # A tuple stands for any of them, which type checkers cannot know.
    loose = cast("Callable[..., _R]", function)

    @wraps(function)
    def checked(*args: _P.args, **kwargs: _P.kwargs) -> _R:
        some, named = tuple(map(_lasting, args)), {n: _lasting(v) for n, v in kwargs.items()}
        refuse_wrong(function, {**dict(zip(_checks(function), some, strict=False)), **named})
        _refuse_unknown_options(function, named)
        return loose(*some, **named)

    return checked


def _lasting(value: object) -> object:
    # A set is left as it is: it can be read again, and looks up faster. What has `__next__` is an
    # iterator; `isinstance` takes four times as long to say so.
    if not (isinstance(value, list) or hasattr(value, "__next__")):
        return value
    return tuple(cast("Iterable[object]", value))


Check: TypeAlias = Callable[[object], bool]


def refuse_wrong(of: type[Struct] | Callable[..., object], values: Mapping[str, object]) -> None:
    """Refuse members or arguments, by name, that are of another type than they must be.

    Raises:
        InputError: with a pointer to each.
    """
    checks, hints = _checks(of), _hints(of)
    # An unknown name is for Python to refuse, in its own words.
    wrong = [name for name, value in values.items() if name in checks and not checks[name](value)]
    if wrong:
        raise InputError(fault for n in wrong for fault in _faults(n, hints[n], values[n]))


class _Members(NamedTuple):
    """Members whose types decide alone, those that must be looked at, and what passed so far."""

    simple: Callable[[object], tuple[object, ...]]
    others: tuple[tuple[str, Check], ...]
    passed: set[tuple[type, ...]]


@cache
def _members(kind: type[Struct]) -> _Members:
    hints = _hints(kind)
    simple = [name for name in kind.__struct_fields__ if _by_type_alone(hints[name])]
    others = [(n, fits) for n, fits in _checks(kind).items() if n not in simple]
    return _Members(_getter(simple), tuple(others), set())


def _getter(names: Sequence[str]) -> Callable[[object], tuple[object, ...]]:
    # With one name `attrgetter` gives no tuple, and without any it cannot be made.
    if len(names) > 1:
        return attrgetter(*names)
    return lambda each: tuple(getattr(each, name) for name in names)


def _by_type_alone(hint: Hint) -> bool:
    origin: Hint = get_origin(hint)
    if origin in (Annotated, Union, UnionType):
        return all(map(_by_type_alone, get_args(hint)[: 1 if origin is Annotated else None]))
    return isinstance(hint, type) and origin is None


@cache
def _hints(of: type[Struct] | Callable[..., object]) -> Mapping[str, Hint]:
    hints = get_type_hints(of, include_extras=True)
    options = [hint for hint in hints.values() if _is_options(hint)]
    own = {n: hint for n, hint in hints.items() if n != "return" and not _is_options(hint)}
    return {**own, **{n: h for each in options for n, h in get_type_hints(*get_args(each)).items()}}


def _is_options(hint: Hint) -> bool:
    """Whether it stands for any keyword arguments of a TypedDict, such as `wrung.options`."""
    origin: Hint = get_origin(hint)
    return origin is Unpack


def _refuse_unknown_options(function: Callable[..., object], given: Iterable[str]) -> None:
    """What Python itself does, except where keyword arguments are passed on as they come."""
    known = _checks(function)
    unknown = [name for name in given if name not in known]
    if unknown:
        name = getattr(function, "__name__", "the function")
        raise TypeError(f"{name}() got an unexpected keyword argument {unknown[0]!r}")


@cache
def _checks(of: type[Struct] | Callable[..., object]) -> Mapping[str, Check]:
    """By name, in order, what each member or parameter must be."""
    hints = _hints(of)
    names: Iterable[str] = getattr(of, "__struct_fields__", hints)
    return {name: _check(hints[name]) for name in names}


@cache
def _check(hint: Hint) -> Check:
    check = _check_of(hint)
    return _remembering(check) if _by_type_alone(hint) else check


def _remembering(check: Check) -> Check:
    """The same check, where the type of a value decides: each type is looked at once."""
    passed: set[type] = set()

    def passes(value: object) -> bool:
        if type(value) in passed:
            return True
        fits = check(value)
        if fits:
            passed.add(type(value))
        return fits

    return passes


def _check_of(hint: Hint) -> Check:
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        return _check(get_args(hint)[0])
    if origin in (Union, UnionType):
        return _any_of(get_args(hint))
    if origin is Literal:
        choices = get_args(hint)
        return lambda value: isinstance(value, str) and value in choices
    element = _element_of(hint)
    return _one(hint) if element is None else _elements(origin, element)


def _one(kind: Hint) -> Check:
    if kind is int:
        # A bool is an int to Python, and to nobody else.
        return lambda value: isinstance(value, int) and not isinstance(value, bool)
    if kind is float:
        return lambda value: isinstance(value, int | float) and not isinstance(value, bool)
    # What cannot be asked about, such as a protocol, is let through.
    simple = isinstance(kind, type) and not getattr(kind, "_is_protocol", False)
    return (lambda value: isinstance(value, kind)) if simple else (lambda _: True)


def _any_of(hints: Sequence[Hint]) -> Check:
    if NoneType in hints:
        other = _any_of([hint for hint in hints if hint is not NoneType])
        return lambda value: value is None or other(value)
    if len(hints) == 1:
        return _check(hints[0])
    checks = tuple(map(_check, hints))
    kinds = [hint for hint in hints if isinstance(hint, type) and issubclass(hint, Struct)]
    # A caller's own kind of target needs what ours have, and need not derive from them.
    alike = len(kinds) > 1 and all(hasattr(kind, "requirements") for kind in kinds)
    return lambda value: (
        any(fits(value) for fits in checks) or (alike and hasattr(value, "requirements"))
    )


def _elements(kind: type[Iterable[object]], element: Hint) -> Check:
    each = _check(element)

    # Text is a collection of texts, which is never what was meant.
    right_kind = _remembering(
        lambda value: isinstance(value, kind) and not isinstance(value, str | bytes)
    )
    # What can be gone through once only is left alone.
    listed = _remembering(lambda value: isinstance(value, Collection))
    name = ("all", element)

    def all_right(many: Any) -> bool:  # noqa: ANN401 - a collection, which was just asked
        return kept(many, name, lambda: all(map(each, many)))

    return lambda value: right_kind(value) and (not listed(value) or all_right(value))


def _faults(name: str, hint: Hint, value: object) -> Iterator[Fault]:
    """What is wrong, element by element where some of them are."""
    element = _element_of(hint)
    if element is not None:
        inner = _check(element)
        wrong = [(place, each) for place, each in enumerate(_many(value)) if not inner(each)]
        for place, each in wrong:
            yield Fault(pointer=f"/{name}/{place}", detail=_detail(element, each))
        if wrong:
            return
    yield Fault(pointer=f"/{name}", detail=_detail(hint, value))


def _many(value: object) -> Collection[object]:
    """The elements of a collection; text has none."""
    if isinstance(value, Collection) and not isinstance(value, str | bytes):
        return cast("Collection[object]", value)
    return ()


def _element_of(hint: Hint) -> Hint | None:
    origin: Hint = get_origin(hint)
    if origin is Annotated or origin in (Union, UnionType):
        inner = [each for each in get_args(hint) if each is not NoneType]
        return _element_of(inner[0])
    is_many = isinstance(origin, type) and issubclass(origin, Iterable)
    return get_args(hint)[0] if is_many else None


def _detail(hint: Hint, value: object) -> str:
    origin: Hint = get_origin(hint)
    given = repr(value)[:40] if origin is Literal else type(value).__name__
    wanted = _in_words(hint)
    # The usual reason for which something else stands where a length must.
    about = _LENGTHS if wanted.startswith("int") and given in ("float", "str", "Decimal") else ""
    return f"must be {wanted}, not {given}{about}"


def _in_words(hint: Hint) -> str:
    origin: Hint = get_origin(hint)
    if origin is Annotated:
        return _in_words(get_args(hint)[0])
    if origin is Literal:
        return " or ".join(map(repr, get_args(hint)))
    if origin in (Union, UnionType):
        kinds = dict.fromkeys(map(_in_words, get_args(hint)))
        return " or ".join(kinds) if len(kinds) < 5 else _ANY_TARGET  # noqa: PLR2004 - all kinds
    if origin is not None:
        of = _in_words(get_args(hint)[0])
        return f"a {origin.__name__.lower()} of {'targets' if of == _ANY_TARGET else of}"
    return "None" if hint is NoneType else str(getattr(hint, "__name__", hint))
