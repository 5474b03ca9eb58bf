"""What fuzzing kept is read without a fault, and a minute of fuzzing finds no more."""

import subprocess
import sys
from pathlib import Path

import pytest

from fuzz.corpus import kept
from fuzz.decoders import DECODERS

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", DECODERS)
def test_each_input_is_read_or_refused(name: str) -> None:
    """Whatever is raised but a refusal is a fault."""
    read = DECODERS[name].reader()
    inputs = (*DECODERS[name].begin, *kept(name))
    assert inputs
    for data in inputs:
        read(data)


@pytest.mark.long
@pytest.mark.skipif(sys.platform != "linux", reason="the fuzzer is for Linux only")
def test_a_minute_of_fuzzing_finds_nothing() -> None:
    """All decoders share it."""
    command = [sys.executable, "-m", "tests.fuzz", "--seconds", "60"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)  # noqa: S603
    assert done.returncode == 0, done.stdout + done.stderr
    rows = [line.split("|") for line in done.stdout.splitlines()[2:]]
    assert len(rows) == len(DECODERS)
    assert all(int(row[2]) > 0 for row in rows), done.stdout
