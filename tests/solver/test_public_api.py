"""What `import wrung` gives, and what it does not do."""

import doctest
import subprocess
import sys

import pytest

import wrung


def test_the_five_lines_of_the_module_docstring_run() -> None:
    """The first thing that a reader tries works as printed."""
    result = doctest.testmod(wrung)

    assert result.attempted >= 4
    assert result.failed == 0


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
    code = f"import sys, wrung, wrung.verify; print({heavy} or 'light')"
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
