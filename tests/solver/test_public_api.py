"""What `import wrung` gives, and what it does not do."""

import ast
import doctest
import inspect
import pkgutil
import subprocess
import sys
from collections.abc import Callable
from importlib import import_module
from importlib.metadata import version
from itertools import pairwise
from pathlib import Path
from types import ModuleType
from typing import get_args

import pytest

import wrung
import wrung.angles

ANGLES = ("angle", "to_degrees", "to_dms", "to_seconds", "radians", "from_radians")


def test_the_five_lines_of_the_module_docstring_run() -> None:
    """The first thing that a reader tries works as printed."""
    result = doctest.testmod(wrung)

    assert result.attempted >= 4
    assert result.failed == 0


SHOWN = [
    *(getattr(wrung, name) for name in ("mm", "inch", "um", "uin", "parse", "to_text")),
    *(getattr(wrung.angles, name) for name in ANGLES),
    *(kind for kind in get_args(wrung.Target)),
]


@pytest.mark.parametrize("shown", SHOWN, ids=lambda shown: shown.__name__)
def test_lengths_angles_and_targets_show_how_they_are_used(
    shown: type | Callable[..., object],
) -> None:
    """With units and an example that runs as printed, after `from wrung import *`."""
    told = shown.__doc__ or ""
    names = {**vars(wrung), **vars(wrung.angles)}
    (found,) = doctest.DocTestFinder(recurse=False).find(shown, shown.__name__, globs=names)

    assert len(found.examples) in (1, 2, 3)
    assert doctest.DocTestRunner().run(found).failed == 0
    assert any(unit in told for unit in ("0.01 nm", "1e-9 seconds"))


def test_the_targets_and_angles_are_public_at_the_top() -> None:
    assert {kind.__name__ for kind in get_args(wrung.Target)} <= set(wrung.__all__)
    assert {"angle", "to_dms", "to_degrees"} <= set(wrung.__all__)


@pytest.mark.parametrize("name", wrung.__all__)
def test_every_public_name_is_documented(name: str) -> None:
    """What carries no docstring of its own, an alias or a constant, has one after it."""
    found = getattr(wrung, name)
    own = inspect.isfunction(found) or inspect.isclass(found)
    told = found.__doc__ if own else docstring_after(name)

    assert told
    assert len(told.split()) > 2, told
    if not own:
        assert f"`{name}`" in (wrung.__doc__ or "")


def public_modules() -> list[ModuleType]:
    """Those with a list of what they promise; the engine promises nothing to others."""
    names = (each.name for each in pkgutil.walk_packages(wrung.__path__, "wrung."))
    modules = [import_module(name) for name in names if ".planning" not in name]
    return [module for module in modules if hasattr(module, "__all__")]


@pytest.mark.parametrize("module", public_modules(), ids=lambda module: module.__name__)
def test_help_on_a_module_explains_each_of_its_names(module: ModuleType) -> None:
    """Of aliases and constants `help` shows no docstring, so that of the module names them."""
    found = {name: getattr(module, name) for name in module.__all__}
    shown = {n for n, each in found.items() if inspect.isclass(each) or inspect.isroutine(each)}

    assert [name for name in shown if not inspect.getdoc(found[name])] == []
    assert [n for n in found if n not in shown and f"`{n}`" not in (module.__doc__ or "")] == []


def docstring_after(name: str) -> str:
    """The text that stands after the assignment of a name, wherever in the library that is."""
    for path in Path(wrung.__file__).parent.rglob("*.py"):
        body = ast.parse(path.read_text("utf-8")).body
        for node, after in pairwise(body):
            target = node.target if isinstance(node, ast.AnnAssign) else None
            if isinstance(target, ast.Name) and target.id == name:
                assert isinstance(after, ast.Expr), f"{name} has no docstring in {path}"
                return str(ast.literal_eval(after.value))
    return ""


def test_the_version_is_that_of_the_distribution() -> None:
    assert wrung.__version__ == version("wrung")


def test_every_public_name_is_there() -> None:
    """What is promised can be had, once, and nothing private is promised."""
    assert all(hasattr(wrung, name) for name in wrung.__all__)
    assert len(set(wrung.__all__)) == len(wrung.__all__)
    assert not [name for name in wrung.__all__ if name.startswith("_")]


def test_public_names_stand_in_order() -> None:
    """Constants, then classes, then functions, each by the alphabet, so that a name is found."""
    kinds = [(not name.isupper(), not name[0].isupper(), name) for name in wrung.__all__]

    assert kinds == sorted(kinds)


def test_an_unknown_name_is_an_attribute_error() -> None:
    """The lazy import hides no misspelling."""
    with pytest.raises(AttributeError, match="has no attribute 'solves'"):
        getattr(wrung, "solves")  # noqa: B009 -- a name that type checkers refuse


def test_importing_loads_no_heavy_library() -> None:
    """Reading blocks and checking answers needs neither ortools nor numpy."""
    heavy = "{'ortools', 'numpy', 'pandas'} & set(sys.modules)"
    code = f"import sys, wrung, wrung.checker.coverage; print({heavy} or 'light')"
    printed = subprocess.run(  # noqa: S603 -- a fixed text, by this very interpreter
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout

    assert printed.strip() == "light"


def test_importing_configures_no_logging() -> None:
    """An embedder's logging is left alone."""
    code = "import logging, wrung; print(logging.getLogger().handlers)"
    printed = subprocess.run(  # noqa: S603 -- a fixed text, by this very interpreter
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout

    assert printed.strip() == "[]"
