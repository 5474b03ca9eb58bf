"""The clients do what they say, against a real server where their language is at hand."""

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

import pytest
import tree_sitter
import tree_sitter_powershell

from patience import PATIENCE_S

EXAMPLES = Path(__file__).parents[2] / "examples"
CLIENTS = EXAMPLES / "clients"
TRAVELLER = EXAMPLES / "requests" / "traveller.json"
IN_TURN = EXAMPLES / "requests" / "in-turn.json"


@pytest.fixture(name="refused")
def _refused(tmp_path: Path) -> Path:
    """A request without targets."""
    path = tmp_path / "refused.json"
    path.write_text('{"unit": "in"}', encoding="utf-8")
    return path


def run(*command: str | Path) -> subprocess.CompletedProcess[str]:
    """Run a client to its end."""
    texts = [str(part) for part in command]
    return subprocess.run(texts, capture_output=True, text=True, timeout=PATIENCE_S, check=False)  # noqa: S603 - our own


OPERATIONS = ("op10", "op20", "op30 left", "op30 right")


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


@pytest.fixture(name="busy")
def _busy() -> Iterator[str]:
    """A service that is busy once, and then answers."""

    class Busy(BaseHTTPRequestHandler):
        calls = 0

        def do_POST(self) -> None:
            self.rfile.read(int(self.headers["Content-Length"]))
            Busy.calls += 1
            self.send_response(503 if Busy.calls == 1 else 200)
            self.send_header("Retry-After", "0")
            self.end_headers()
            self.wfile.write(b'{"outcome":"optimal","stacks":[],"unmet":[]}')

        def log_message(self, *_: object) -> None:
            """Keep quiet."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Busy) as server:
        Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def test_python_asks_again_if_the_service_is_busy(busy: str) -> None:
    assert run(sys.executable, CLIENTS / "stacks.py", TRAVELLER, busy).stdout == (
        "outcome: optimal\n"
    )


def test_python_asks_for_one_stack_and_keeps_a_record(address: str, tmp_path: Path) -> None:
    one = run(sys.executable, CLIENTS / "one_stack.py", address)
    assert one.stdout.startswith("op10: "), one.stderr
    record = tmp_path / "record.json"
    done = run(sys.executable, CLIENTS / "traveller.py", IN_TURN, record, address)
    assert [line.split(":")[0] for line in done.stdout.splitlines()] == [*OPERATIONS, "record"]
    assert json.loads(record.read_text("utf-8"))["request_sha256"] in done.stdout


needs_curl = pytest.mark.skipif(not shutil.which("curl"), reason="no curl on this machine")


@needs_curl
def test_curl(address: str) -> None:
    done = run("sh", CLIENTS / "stacks.sh", TRAVELLER, address)
    assert done.returncode == 0, done.stderr
    assert '"outcome":"partial"' in done.stdout


@needs_curl
def test_curl_asks_again_if_the_service_is_busy(busy: str) -> None:
    assert '"optimal"' in run("sh", CLIENTS / "stacks.sh", TRAVELLER, busy).stdout


@needs_curl
def test_curl_asks_for_one_stack_and_keeps_a_record(address: str, tmp_path: Path) -> None:
    assert '"op10"' in run("sh", CLIENTS / "one_stack.sh", address).stdout
    record = tmp_path / "record.csv"
    done = run("sh", CLIENTS / "traveller.sh", IN_TURN, record, address)
    assert done.returncode == 0, done.stderr
    assert all(name in record.read_text("utf-8") for name in OPERATIONS)


@needs_curl
def test_curl_says_why_a_request_is_refused(address: str, refused: Path) -> None:
    done = run("sh", CLIENTS / "stacks.sh", refused, address)
    assert done.returncode == 22
    assert '"/targets"' in done.stdout


@pytest.mark.skipif(not shutil.which("mcs"), reason="no C# compiler (Mono's mcs) on this machine")
def test_csharp(address: str, refused: Path, tmp_path: Path) -> None:
    needed = ["-r:System.Net.Http", "-r:System.Runtime.Serialization", "-warnaserror"]
    for name in ("OneStack", "Traveller", "Stacks"):
        compiled = run("mcs", f"-out:{tmp_path / name}.exe", *needed, CLIENTS / f"{name}.cs")
        assert compiled.returncode == 0, compiled.stderr

    done = run("mono", tmp_path / "Stacks.exe", TRAVELLER, address)

    assert shows_the_traveller(done.stdout), done.stderr
    assert run("mono", tmp_path / "Stacks.exe", refused, address).returncode == 1
    assert '"op10"' in run("mono", tmp_path / "OneStack.exe", address).stdout
    record = tmp_path / "record.csv"
    assert run("mono", tmp_path / "Traveller.exe", IN_TURN, record, address).returncode == 0
    assert all(name in record.read_text("utf-8") for name in OPERATIONS)


def powershell(source: bytes) -> tree_sitter.Node:
    """The root of a script's syntax tree."""
    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_powershell.language()))
    return parser.parse(source).root_node


@pytest.mark.parametrize("name", ["one_stack", "traveller", "stacks", "crib"])
def test_powershell_parses(name: str) -> None:
    """By a grammar only: it says nothing of what the script does."""
    source = (CLIENTS / f"{name}.ps1").read_bytes()
    assert not powershell(source).has_error
    assert powershell(source.replace(b"}", b"", 1)).has_error
