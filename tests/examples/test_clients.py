"""The clients do what they say, against a real server where their language is at hand."""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import tree_sitter
import tree_sitter_powershell

EXAMPLES = Path(__file__).parents[2] / "examples"
CLIENTS = EXAMPLES / "clients"
TRAVELLER = EXAMPLES / "requests" / "traveller.json"


@pytest.fixture(name="refused")
def _refused(tmp_path: Path) -> Path:
    """A request without targets."""
    path = tmp_path / "refused.json"
    path.write_text('{"unit": "in"}', encoding="utf-8")
    return path


def run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    """Run a client to its end."""
    texts = [str(part) for part in command]
    return subprocess.run(texts, capture_output=True, text=True, timeout=90, check=False)  # noqa: S603 - our own


def shows_the_traveller(printed: str) -> bool:
    """Whether the outcome stands there, with a line for each of the seven operations."""
    first, *lines = printed.splitlines()
    return first == "outcome: partial" and [line[:2] for line in lines] == ["op"] * 7


def test_python(address: str) -> None:
    done = run(sys.executable, CLIENTS / "stacks.py", TRAVELLER, address)
    assert done.returncode == 0, done.stderr
    assert shows_the_traveller(done.stdout)


def test_python_says_why_a_request_is_refused(address: str, refused: Path) -> None:
    done = run(sys.executable, CLIENTS / "stacks.py", refused, address)
    assert done.returncode == 1
    assert "/targets" in done.stderr


needs_curl = pytest.mark.skipif(not shutil.which("curl"), reason="no curl on this machine")


@needs_curl
def test_curl(address: str) -> None:
    done = run("sh", CLIENTS / "stacks.sh", TRAVELLER, address)
    assert done.returncode == 0, done.stderr
    assert '"outcome":"partial"' in done.stdout


@needs_curl
def test_curl_says_why_a_request_is_refused(address: str, refused: Path) -> None:
    done = run("sh", CLIENTS / "stacks.sh", refused, address)
    assert done.returncode == 22
    assert '"/targets"' in done.stdout


@pytest.mark.skipif(not shutil.which("mcs"), reason="no C# compiler (Mono's mcs) on this machine")
def test_csharp(address: str, refused: Path, tmp_path: Path) -> None:
    program = tmp_path / "Stacks.exe"
    needed = ["-r:System.Net.Http", "-r:System.Runtime.Serialization", "-warnaserror"]
    compiled = run("mcs", f"-out:{program}", *needed, CLIENTS / "Stacks.cs")
    assert compiled.returncode == 0, compiled.stderr

    done = run("mono", program, TRAVELLER, address)

    assert shows_the_traveller(done.stdout), done.stderr
    assert run("mono", program, refused, address).returncode == 1


def powershell(source: bytes) -> tree_sitter.Node:
    """The root of a script's syntax tree."""
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_powershell.language()))
    return parser.parse(source).root_node


def test_powershell_parses() -> None:
    """By a grammar only: it says nothing of what the script does."""
    source = (CLIENTS / "stacks.ps1").read_bytes()
    assert not powershell(source).has_error
    assert powershell(source.replace(b"}", b"", 1)).has_error
