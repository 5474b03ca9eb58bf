"""Arguments of wrong types end with an error that names them, whatever the function."""

import inspect
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Annotated, Any, Literal, get_args, get_origin

import msgspec
import pytest
from msgspec import Struct

import wrung
from wrung import (
    Block,
    Cancel,
    GaugeSet,
    InputError,
    LengthGrid,
    LengthTarget,
    WrungError,
    angles,
    grades,
    lengths,
    materials,
    mm,
    targets,
    texts,
)
from wrung import metrology as metrology_module
from wrung.checked_types import CheckedStruct
from wrung.coverage import picture
from wrung.fits import iso286, iso2768
from wrung.metrology import certificates
from wrung.options import Options

SHELF = [Block(id="a", nominal=mm("1"), grade="0"), Block(id="b", nominal=mm("2"), grade="0")]
TARGETS = [LengthTarget(ref="t", length=mm("3"))]
ANSWER = wrung.solve(SHELF, TARGETS)
GRID = LengthGrid(start=mm("1"), stop=mm("3"), step=mm("1"))
COVERAGE = wrung.coverage_of(SHELF, GRID)
VALID: dict[str, Any] = {
    "answer": ANSWER,
    "blocks": SHELF,
    "cancel": Cancel(),
    "composition_id": "inch-81",
    "coverage": COVERAGE,
    "exclude": (),
    "first": COVERAGE,
    "grid": GRID,
    "joint_allowance": 0,
    "material_id": "steel",
    "name": "0",
    "nominal": mm("1"),
    "objective": "fewest_blocks",
    "offers": None,
    "only": None,
    "others": wrung.alternatives(SHELF, TARGETS, ANSWER),
    "pointer": "/material",
    "quanta": mm("1"),
    "second": COVERAGE,
    "targets": TARGETS,
    "text": "1",
    "time_limit_ms": 100.0,
    "traded": wrung.trade_off(SHELF, TARGETS, ANSWER),
    "unit": "mm",
    "value": Decimal("0.5"),
}
WRONG: tuple[Any, ...] = (
    *(None, True, 3, -1, 1.5, "x", b"x", [], {}, set(), (), object(), [object()], [None], ["x"]),
    *({"x": 1}, Decimal(1), date(2026, 1, 1), datetime(2026, 1, 1, tzinfo=UTC), Struct),
)
FUNCTIONS: tuple[Callable[..., Any], ...] = tuple(
    dict.fromkeys(
        function
        for module in (wrung, angles, lengths, grades, materials)
        for name, function in vars(module).items()
        if inspect.isfunction(inspect.unwrap(function)) and not name.startswith("_")
        if name in wrung.__all__
        or (module is not lengths and function.__module__ == module.__name__)
    )
)
STRUCTS: tuple[type[Struct], ...] = tuple(
    dict.fromkeys(
        found
        for module in (wrung, targets, metrology_module)
        for found in vars(module).values()
        if inspect.isclass(found) and issubclass(found, CheckedStruct)
    )
)


def parameters() -> Iterator[Any]:
    for function in FUNCTIONS:
        for name in names_of(function):
            yield pytest.param(function, name, id=f"{function.__name__}.{name}")


def names_of(function: Callable[..., Any]) -> list[str]:
    """Its parameters, the options of `wrung.options` one by one where it takes them."""
    names = list(inspect.signature(function).parameters)
    return [*names[:-1], *Options.__annotations__] if names[-1:] == ["options"] else names


def required(function: Callable[..., Any]) -> dict[str, Any]:
    empty = inspect.Parameter.empty
    found = inspect.signature(function).parameters.values()
    kind = "others" if "alternatives" in function.__name__ else "traded"
    valid = {**VALID, "found": VALID[kind]}
    needed = [each for each in found if each.default is empty and each.name != "options"]
    return {each.name: valid[each.name] for each in needed}


def test_there_is_something_to_try() -> None:
    assert {wrung.solve, wrung.parse, angles.angle, grades.grade} <= set(FUNCTIONS)
    assert {Block, GaugeSet, LengthTarget, targets.SineTarget} <= set(STRUCTS)


@pytest.mark.parametrize(("function", "name"), list(parameters()))
def test_a_wrong_argument_is_refused_by_its_name(function: Callable[..., Any], name: str) -> None:
    """Or it is right after all; what comes out is never a KeyError or the like."""
    for wrong in WRONG:
        error = raised_by(function, {**required(function), name: wrong})
        # A text of the right type may still be no length and no name.
        fair = isinstance(error, InputError) or (isinstance(wrong, str) and error)
        assert error is None or fair or name in str(error), wrong
        assert isinstance(error, WrungError | TypeError | None), (wrong, error)


FURTHER = tuple(
    dict.fromkeys(
        function
        for module in (metrology_module, targets, picture, texts, certificates, iso286, iso2768)
        for name, function in vars(module).items()
        if inspect.isfunction(function) and not name.startswith("_")
        if name in getattr(module, "__all__", ()) or function.__module__ == module.__name__
        if function.__module__.startswith("wrung.") and inspect.signature(function).parameters
    )
)


@pytest.mark.parametrize(
    ("function", "name"),
    [
        pytest.param(function, name, id=f"{function.__module__}.{function.__name__}.{name}")
        for function in FURTHER
        for name in names_of(function)
    ],
)
def test_every_other_public_function_names_a_wrong_argument(
    function: Callable[..., Any], name: str
) -> None:
    """Even where nothing else was given."""
    for wrong in (object(), Struct):
        error = raised_by(function, {name: wrong})
        assert isinstance(error, InputError), error
        assert [fault.pointer for fault in error.faults] == [f"/{name}"]


def raised_by(function: Callable[..., Any], arguments: dict[str, Any]) -> Exception | None:
    try:
        function(**arguments)
    except Exception as error:  # noqa: BLE001 -- whatever it is, it is looked at
        return error
    return None


def test_an_option_that_there_is_not_is_refused() -> None:
    with pytest.raises(TypeError, match="unexpected keyword argument 'exclud'"):
        wrung.alternatives(SHELF, TARGETS, ANSWER, exclud={"a"})  # type: ignore[call-arg]


def members() -> Iterator[Any]:
    for kind in STRUCTS:
        for field in msgspec.structs.fields(kind):
            yield pytest.param(kind, field.name, id=f"{kind.__name__}.{field.name}")


@pytest.mark.parametrize(("kind", "name"), list(members()))
def test_a_wrong_member_is_refused_when_it_is_made(kind: type[Struct], name: str) -> None:
    """With a pointer to it."""
    right = {f.name: made(f.type) for f in msgspec.structs.fields(kind) if f.required}
    for wrong in (object(), Struct, b"x", {"x": 1}, [object()]):
        with pytest.raises(InputError) as caught:
            kind(**{**right, name: wrong})
        assert {fault.pointer.split("/")[1] for fault in caught.value.faults} == {name}


def made(hint: Any) -> Any:  # noqa: ANN401 -- a value for any annotation
    """Something of that type."""
    arguments, origin = get_args(hint), get_origin(hint)
    if origin is Annotated:
        return made(arguments[0])
    if origin is Literal:
        return arguments[0]
    if origin is tuple:
        return ()
    if isinstance(hint, type) and issubclass(hint, Struct):
        return hint(**{f.name: made(f.type) for f in msgspec.structs.fields(hint) if f.required})
    return {str: "x", int: 1, float: 1.0, Decimal: Decimal(1)}[hint]
