"""The public typing is part of the contract: these files are checked as an embedder's are."""

import os
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
STRICT = ("--strict", "--warn-unused-ignores")
# As mypy is where nobody has set it up, and with a look into functions without annotations.
LOOSE = ("--config-file=", "--check-untyped-defs")


@pytest.mark.parametrize(
    ("names", "options"), [(("embedding.py", "mistakes.py"), STRICT), (("untyped.py",), LOOSE)]
)
def test_mypy_agrees(names: tuple[str, ...], options: tuple[str, ...]) -> None:
    """Right use has no error; each mistake has one, as an ignore without an error is one too."""
    # A cache that several write at one time is locked, and mypy ends.
    command = [sys.executable, "-m", "mypy", "--cache-dir", os.devnull, *options]
    checked = subprocess.run(  # noqa: S603 -- our own files, by this very interpreter
        [*command, *(str(HERE / name) for name in names)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert checked.returncode == 0, checked.stdout + checked.stderr


def test_untyped_use_runs() -> None:
    """And a wrong type is told at run time, as no checker did."""
    made = runpy.run_path(str(HERE / "untyped.py"))

    assert made["main"]() == (["op0: 1.3754", "op1: 0.8"], "/length")
