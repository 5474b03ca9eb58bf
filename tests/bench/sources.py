"""Where benchmark requests come from: a generator script, or a file of JSON lines."""

import subprocess
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path


def generated(
    script: Path, *, families: Sequence[str], seed: int, count: int
) -> Mapping[str, list[bytes]]:
    """Request bodies per family, as the script prints them; all its families if none is named."""
    names = families or _run(script, "--list").decode().split()
    return {
        name: _run(script, name, "--seed", str(seed), "--count", str(count)).splitlines()
        for name in names
    }


def from_file(file: Path, count: int) -> Mapping[str, list[bytes]]:
    """The first request bodies of a file with one a line."""
    lines = [line for line in file.read_bytes().splitlines() if line.strip()]
    return {file.stem: lines[:count]}


def _run(script: Path, *arguments: str) -> bytes:
    command = [sys.executable, str(script), *arguments]
    return subprocess.run(command, check=True, capture_output=True).stdout  # noqa: S603 - as asked
