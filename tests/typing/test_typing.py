"""The public typing is part of the contract: these files are checked as an embedder's are."""

import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


@pytest.mark.parametrize("name", ["embedding.py", "mistakes.py"])
def test_mypy_agrees(name: str) -> None:
    """Right use has no error; each mistake has one, as an ignore without an error is one too."""
    checked = subprocess.run(  # noqa: S603 -- our own files, by this very interpreter
        [sys.executable, "-m", "mypy", "--strict", "--warn-unused-ignores", str(HERE / name)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )

    assert checked.returncode == 0, checked.stdout + checked.stderr
