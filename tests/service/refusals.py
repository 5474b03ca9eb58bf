"""Every sentence that the code refuses with, found in its source; what is put in stands as ``{}``.

From each call that refuses, arguments are followed through names, both ways of a condition, what a
function returns, and what a loop goes through. A sentence that reaches a refusal by another way
(an attribute, a dictionary) is not found, and is left to the requests of `test_german_problems.py`.
"""

import ast
from collections.abc import Iterator, Mapping
from importlib.resources import files
from pathlib import Path
from typing import Final

REFUSING: Final = frozenset(
    {
        *("Refusal", "meaningless", "invalid", "Fault", "StateError", "UnavailableError"),
        *("BusyError", "NotALengthError", "LengthError", "NotARecordError", "unless"),
        *("refuse", "_refuse", "_fault", "UnreadableError", "Remark"),
        *("RecordFinding", "at"),
    }
)
"""What is called to refuse; the sentence is among its arguments."""
SAYING: Final = frozenset({"too_short", "refusal", "_unfit"})
"""Methods that are asked for such a sentence elsewhere."""
_ELSEWHERE: Final = ("checker", "commands", "testing", "rules")
"""The checker speaks to those who maintain the library, the command line to its user; rules of the
database are SQL."""
_DEEPEST: Final = 6


def sentences() -> Iterator[tuple[str, str]]:
    """The file and the sentence, of the library and the service."""
    for package in ("wrung", "wrung_service"):
        root = Path(str(files(package)))
        for path in sorted(root.rglob("*.py")):
            inner = path.relative_to(root)
            if not set(_ELSEWHERE) & {*inner.parts, path.stem}:
                tree = ast.parse(path.read_text(encoding="utf-8"))
                yield from ((str(inner), each) for each in dict.fromkeys(_of(tree)))


def _of(tree: ast.Module) -> Iterator[str]:
    named = _named(tree)
    for each in ast.walk(tree):
        if isinstance(each, ast.Call) and _name(each) in REFUSING:
            for given in (*each.args, *(keyword.value for keyword in each.keywords)):
                yield from filter(_is_sentence, _texts(given, named))
        if isinstance(each, ast.FunctionDef) and each.name in SAYING:
            yield from filter(_is_sentence, _returned(each, named, 0))


def _is_sentence(text: str) -> bool:
    return " " in text and any(part.strip(" :;,.") for part in text.split("{}"))


def _texts(value: ast.expr, named: Mapping[str, list[ast.AST]], deep: int = 0) -> Iterator[str]:
    """What an expression may come to, as far as it is text."""
    match value:
        case ast.Constant(value=str() as text):
            yield text
        case ast.JoinedStr():
            yield "".join(_piece(each) for each in value.values)
        case ast.IfExp() | ast.BoolOp() | ast.Tuple():
            for each in ast.iter_child_nodes(value):
                if isinstance(each, ast.expr):
                    yield from _texts(each, named, deep)
        case ast.Call(func=ast.Attribute(attr="format" | "rstrip", value=inner)):
            yield from _texts(inner, named, deep)
        case ast.Name() | ast.Call() if deep < _DEEPEST:
            for each in named.get(_name(value), []):
                yield from _reached(each, named, deep + 1)
        case _:
            pass


def _reached(found: ast.AST, named: Mapping[str, list[ast.AST]], deep: int) -> Iterator[str]:
    if isinstance(found, ast.FunctionDef):
        yield from _returned(found, named, deep)
    elif isinstance(found, ast.expr):
        yield from _texts(found, named, deep)


def _returned(
    function: ast.FunctionDef, named: Mapping[str, list[ast.AST]], deep: int
) -> Iterator[str]:
    for each in ast.walk(function):
        if isinstance(each, ast.Return | ast.Yield) and each.value is not None:
            yield from _texts(each.value, named, deep + 1)


def _named(tree: ast.Module) -> Mapping[str, list[ast.AST]]:
    """All that a name may stand for in a file, whatever its scope."""
    named: dict[str, list[ast.AST]] = {}
    for each in ast.walk(tree):
        match each:
            case ast.Assign(targets=[target], value=value):
                _note(target, value, named)
            case ast.AnnAssign(target=target, value=ast.expr() as value):
                _note(target, value, named)
            case ast.For(target=target, iter=value) | ast.comprehension(target=target, iter=value):
                _note(target, value, named)
            case ast.FunctionDef():
                named.setdefault(each.name, []).append(each)
            case _:
                pass
    return named


def _note(target: ast.expr, value: ast.expr, named: dict[str, list[ast.AST]]) -> None:
    for each in ast.walk(target):
        if isinstance(each, ast.Name):
            named.setdefault(each.id, []).append(value)


def _name(value: ast.Name | ast.Call) -> str:
    """Of a name, or of what is called."""
    if isinstance(value, ast.Name):
        return value.id
    return (
        value.func.attr if isinstance(value.func, ast.Attribute) else getattr(value.func, "id", "")
    )


def _piece(value: ast.expr) -> str:
    return str(value.value) if isinstance(value, ast.Constant) else "{}"
