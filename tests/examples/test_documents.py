"""What README.md and DEVELOPERS.md say holds: their code runs, their paths and commands exist."""

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, get_args

import msgspec
import pytest

import wrung
from examples.documents import ROOT, code_blocks, read
from patience import PATIENCE_S
from wrung import compositions
from wrung.lengths import LONGEST, QUANTA
from wrung.targets import LengthTarget
from wrung_service.settings import Limits

DOCUMENTS = ("README.md", "DEVELOPERS.md", "examples/README.md", "solver/ENGINE.md")
TIMES = ("solve_ms", "waited_ms")


@pytest.mark.skipif(not shutil.which("curl"), reason="no curl on this machine")
def test_the_curl_call_gets_the_answer_that_stands_under_it(address: str) -> None:
    """To the last block, as no other stack is as good; only times differ from run to run."""
    call = calls_of_curl()[0].replace("http://127.0.0.1:8000", address)
    printed = json.loads(code_blocks("README.md", "json")[0])

    answer = json.loads(printed_by(call))

    assert answer.keys() == printed.keys()
    assert {**answer, **dict.fromkeys(TIMES)} == {**printed, **dict.fromkeys(TIMES)}


@pytest.mark.skipif(not shutil.which("curl"), reason="no curl on this machine")
def test_each_call_of_the_readme_serves_every_target(address: str) -> None:
    """`make demo` is tried in test_demo.py, and `make test` is this run."""
    first = code_blocks("README.md", "sh")[0]
    made = [line.partition("#")[0].split() for line in first.splitlines() if line]
    assert made == [["make", "demo"], ["make", "test"], ["make", "serve"]]

    for call in calls_of_curl():
        here = call.replace("http://127.0.0.1:8000", address)
        assert json.loads(printed_by(here))["outcome"] == "optimal"


def printed_by(call: str) -> bytes:
    """What a line of shell prints."""
    shell = ["sh", "-c", call]
    done = subprocess.run(shell, capture_output=True, timeout=PATIENCE_S, check=True)  # noqa: S603 - our own
    return done.stdout


def calls_of_curl() -> list[str]:
    return [call for call in code_blocks("README.md", "sh") if call.startswith("curl")]


def test_it_is_installed_from_a_clone_and_from_nowhere_else() -> None:
    """No registry has the name."""
    text = read("README.md") + read("service/wrung_service/commands/service.py")
    wanted = re.findall(r"pip install ['\"]?([^'\"\s`]+)", text)

    assert {".", ".[service]"} <= set(wanted)
    assert not [each for each in wanted if not each.startswith(".") and ".whl" not in each]


@pytest.mark.skipif(sys.platform == "win32", reason="written for a POSIX shell")
def test_the_command_lines_of_the_readme_run(tmp_path: Path) -> None:
    """In a folder with a clone's examples, a request and a certificate."""
    (lines,) = (each for each in code_blocks("README.md", "sh") if each.startswith("wrung"))
    kinds = ROOT / "service" / "wrung_service" / "api" / "examples"
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    shutil.copy(ROOT / "examples" / "requests" / "optimal.json", tmp_path / "request.json")
    shutil.copy(kinds / "certificate.csv", tmp_path)
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"

    environment = {**os.environ, "PATH": path}
    ends = []
    for line in lines.splitlines():
        call = ["sh", "-c", line]
        done = subprocess.run(call, cwd=tmp_path, env=environment, capture_output=True, check=False)  # noqa: S603 - our own
        ends.append(done.returncode)

    assert ends == [3, 0, 0]  # one operation of the traveller has no stack
    assert json.loads((tmp_path / "answer.json").read_text())["outcome"] == "optimal"
    assert json.loads((tmp_path / "blocks.json").read_text())["blocks"]


def test_the_python_call_prints_the_stack_of_the_curl_call(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """It is the same request."""
    printed = json.loads(code_blocks("README.md", "json")[0])
    exec(code_blocks("README.md", "python")[0], {})  # noqa: S102 - our own

    blocks = [block["id"] for block in printed["stacks"][0]["blocks"]]
    assert capsys.readouterr().out == f"{printed['outcome']} {blocks}\n"


def checked(table: Any) -> Iterator[str]:  # noqa: ANN401 - any TOML
    """What each entry of a table says of how far it was compared with print."""
    if isinstance(table, dict):
        if "checked" in table:
            yield table["checked"]
        table = list(table.values())
    if isinstance(table, list):
        for each in table:
            yield from checked(each)


def test_the_readme_says_how_many_entries_of_the_tables_are_checked() -> None:
    """Counted in the tables themselves."""
    tables = sorted((ROOT / "solver" / "wrung" / "data").glob("*.toml"))
    counts = Counter(word for path in tables for word in checked(tomllib.loads(path.read_text())))
    sentence = (
        f"Of {counts.total()} entries, {counts['yes']} were compared in full with a printed "
        f"source, {counts['partly']} in part or with copies on the web, and {counts['no']} not yet."
    )

    assert counts.keys() == {"yes", "partly", "no"}
    assert sentence in read("README.md")


def test_the_python_call_takes_five_lines() -> None:
    lines = [line for line in code_blocks("README.md", "python")[0].splitlines() if line]
    assert len(lines) <= 5


def test_the_outcomes_are_those_of_the_library() -> None:
    named = re.findall(r"^\| `([a-z]+)` \|", read("README.md"), re.MULTILINE)
    assert set(named) == set(get_args(wrung.Outcome))


def test_the_limits_are_those_of_the_service() -> None:
    limits = Limits()
    blocks, targets = limits.max_blocks, limits.max_targets
    longest, usual = limits.max_time_limit_ms // 1000, limits.default_time_limit_ms // 1000
    sentence = f"{blocks} blocks, {targets} targets and {longest} s, {usual} s if it does not say"
    assert sentence in read("README.md")
    assert f"up to {LONGEST // QUANTA['mm'] // 1000} m" in read("README.md")


def test_the_changelog_names_every_path_of_the_service() -> None:
    document = json.loads(read("service/openapi.json"))
    missing = [path for path in document["paths"] if f"{path}`" not in read("CHANGELOG.md")]
    assert missing == []


def test_the_new_kind_of_target_is_served() -> None:
    """0.1001 and 0.3001 from 0.1001, 0.1001 and 0.2: both can stand."""
    names: dict[str, Any] = {}
    exec(code_blocks("DEVELOPERS.md", "python")[0], names)  # noqa: S102 - our own
    blocks = [
        wrung.Block(id=str(number), nominal=wrung.inch(nominal), limit_deviation=0)
        for number, nominal in enumerate(("0.1001", "0.1001", "0.2"))
    ]
    step = names["StepTarget"](ref="op10", low=wrung.inch("0.1001"), step=wrung.inch("0.2"))
    plain = LengthTarget(ref="op20", length=wrung.inch("0.1001"))

    answer = wrung.solve(blocks, [step])
    assert [(stack.target, stack.role) for stack in answer.stacks] == [
        ("op10", "low"),
        ("op10", "high"),
    ]
    assert wrung.solve(blocks, [step, plain]).outcome == "partial"


def test_the_new_composition_is_read() -> None:
    """As the library reads its own table, which checks the count and the sum."""
    text = code_blocks("DEVELOPERS.md", "toml")[0]
    shape = dict[str, list[compositions._CompositionText]]  # noqa: SLF001 - what reads the file
    table = msgspec.toml.decode(text, type=shape, strict=True)
    assert [each.read().count for each in table["compositions"]] == [5]


def named_paths() -> Iterator[tuple[str, str]]:
    """Every path into the clone that a document names, as code or as a link."""
    for document in DOCUMENTS:
        text = read(document)
        code = r"`((?:solver|service|tests|examples|deploy|\.ci)/[a-zA-Z0-9_./-]*)`"
        yield from ((document, path) for path in re.findall(code, text))
        folder = document.rpartition("/")[0]
        links = re.findall(r"\]\(([^)#:]+)\)", text)
        yield from ((document, f"{folder}/{link}".lstrip("/")) for link in links)


@pytest.mark.parametrize(("document", "path"), sorted(set(named_paths())))
def test_a_named_path_exists(document: str, path: str) -> None:
    assert (ROOT / path).exists(), f"{document} names {path}"


def mapped_paths() -> Iterator[str]:
    """Every path of the map in DEVELOPERS.md; two blanks of indent mean one folder deeper."""
    one = r"(?:[a-z0-9_]+\.py|[a-z0-9_/]+/)"
    folders: list[str] = []
    for line in code_blocks("DEVELOPERS.md", "")[0].splitlines():
        depth = (len(line) - len(line.lstrip())) // 2
        names = re.match(rf"\s*({one}(?: {one})*)", line)
        assert names, line
        folders = folders[:depth]
        yield from ("".join(folders) + name for name in names[1].split())
        folders.append(names[1].split()[0])


@pytest.mark.parametrize("path", list(mapped_paths()))
def test_the_map_shows_what_is_there(path: str) -> None:
    assert (ROOT / path).exists()


@pytest.mark.parametrize("document", [each for each in DOCUMENTS if "ENGINE" not in each])
def test_each_make_command_is_a_target(document: str) -> None:
    makefile = read("Makefile")
    named = set(re.findall(r"(?:`|^)make ([a-z-]+)", read(document), re.MULTILINE))
    missing = [name for name in named if not re.search(rf"^{name}:", makefile, re.MULTILINE)]
    assert named
    assert not missing


def test_make_alone_lists_every_target() -> None:
    """Those that a person calls: the ones with a comment of their own."""
    done = subprocess.run(["make"], cwd=ROOT, capture_output=True, text=True, check=True)  # noqa: S607 - on PATH
    listed = set(re.findall(r"^  make ([a-z-]+)", done.stdout, re.MULTILINE))
    phony = re.search(r"^\.PHONY: (.*)$", read("Makefile"), re.MULTILINE)
    assert phony
    assert listed == set(phony[1].split())
