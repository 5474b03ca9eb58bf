"""The console command: what it prints, what it ends with, and what it needs."""

import io
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from msgspec import Struct

import wrung
import wrung_service
from patience import PATIENCE_S
from service.bodies import block, request, target
from service.conftest import Run
from wrung_service.__main__ import main
from wrung_service.commands.asking import ask
from wrung_service.pool import Turn
from wrung_service.settings import Settings
from wrung_service.settings_reading import flag, variable

ROOT = Path(__file__).parents[2]
EXAMPLES = Path(wrung_service.__file__).parent / "api" / "examples"
WITHOUT_EXTRA = """
import sys
class Missing:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"litestar", "uvicorn", "structlog", "markdown_it"}:
            raise ModuleNotFoundError(f"No module named {name!r}", name=name)
sys.meta_path.insert(0, Missing())
from wrung_service.__main__ import main
from wrung_service.commands.asking import ask
from wrung_service.pool import Turn
sys.exit(main(sys.argv[1:]))
"""


def test_help_names_every_setting_with_its_variable(run: Run) -> None:
    """Nobody should have to read the code to set something."""
    status, told, _ = run("serve", "--help")

    assert status == 0
    for name in Settings.__struct_fields__:
        assert variable(name) in "".join(told.split())
        assert f"{flag(name)} " in told


@pytest.mark.parametrize(
    "command", ["solve", "coverage", "compare", "check", "convert", "trend", "serve", "openapi"]
)
def test_help_of_each_command_has_examples_and_exit_statuses(run: Run, command: str) -> None:
    status, told, _ = run(command, "--help")

    assert status == 0
    assert f"wrung {command}" in told.partition("Examples:")[2]
    assert "Exit status:" in told
    assert command in run("--help")[1]


@pytest.mark.parametrize(
    "arguments", [[], ["stop"], ["serve", "--colour", "red"], ["solve", "--jsn"], ["convert"]]
)
def test_what_is_not_a_command_ends_with_2(run: Run, arguments: list[str]) -> None:
    """With a sentence on standard error."""
    status, _, told = run(*arguments)

    assert status == 2
    assert "Usage: wrung" in told


def test_a_name_that_the_output_cannot_write_stops_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As on Windows, where output into a file has an encoding of the country."""
    path = tmp_path / "request.json"
    path.write_text(json.dumps(request(targets=[target("Łódź", "0.3506")])))
    written = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(written, encoding="cp1252"))

    status = main(["solve", str(path)])

    assert status == 0
    assert written.getvalue().decode("cp1252").startswith("\\u0141ód\\u017a: 0.3506 in")


def test_version_is_that_of_the_package(run: Run) -> None:
    """The first thing to say in a report of a fault."""
    assert run("--version") == (0, f"wrung {wrung.__version__}\n", "")


@pytest.mark.parametrize(
    ("targets", "status", "said"),
    [
        (["3"], 0, "Optimal: 1 stack, 2 blocks in all, proven best."),
        (["2"], 0, "Optimal: 1 stack, 1 block in all, proven best."),
        (["3", "3"], 3, "Partial: 1 stack, 2 blocks in all, proven best."),
        (["7"], 4, "Infeasible: 0 stacks"),
    ],
)
def test_solve_ends_by_the_outcome(run: Run, targets: list[str], status: int, said: str) -> None:
    wanted = [target(f"t{number}", length) for number, length in enumerate(targets)]
    body = request(blocks=[block("a", "1"), block("b", "2")], targets=wanted)

    ended, told, _ = run("solve", sent=body)

    assert ended == status
    assert said in told


def test_solve_prints_the_stacks_from_the_base_up(run: Run) -> None:
    shelf = [{**block("a", "0.5"), "serial": "4711"}, block("b", "12")]

    _, told, _ = run("solve", "-", sent=request(blocks=shelf, targets=[target("op20", "12.50")]))

    lines = told.splitlines()
    assert lines[0] == "op20: 12.50 in"
    assert lines[1:5] == ["  12    b", "   0.5  a, no. 4711", "  ----", "  12.5"]
    assert "worst-case error 10 µin" in lines[5]


def test_json_is_what_the_service_answers(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "request.json"
    path.write_text(json.dumps(request(blocks=[block("a", "1")], targets=[target("t", "1")])))

    status, told, _ = run("solve", "--json", str(path))

    answer: dict[str, Any] = json.loads(told)
    assert status == 0
    assert (answer["outcome"], answer["stacks"][0]["length"]) == ("optimal", "1")


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ("{", "wrung: "),
        ("[]", "wrung: the request: must be an object, not an array"),
        (request(unit="ft"), "wrung: /unit: must be one of "),
        (request(targets=[target("t", "1,5")]), "wrung: /targets/0/length: has a decimal comma"),
        (request(exclude=["x1"]), "wrung: /exclude/0: no block has the id 'x1'"),
    ],
)
@pytest.mark.parametrize("options", [[], ["--json"]])
def test_a_refused_request_ends_with_2_and_its_reasons(
    run: Run, sent: object, said: str, options: list[str]
) -> None:
    status, out, told = run("solve", *options, sent=sent)

    assert (status, out) == (2, "")
    assert said in told


def test_check_takes_a_record_by_itself(run: Run) -> None:
    """As the examples keep it; an editor on Windows may put a mark before it."""
    record = json.loads((EXAMPLES / "record-check-request.json").read_text("utf-8"))["record"]

    assert run("check", sent=record)[:2] == (0, "The record holds.\n")
    record["stacks"][0]["worst_case_error"] = "1"
    assert run("check", sent=record)[0] == 3


def test_check_passes_or_fails(run: Run) -> None:
    body = {"unit": "in", "blocks": [block("a", "1"), block("b", "2")], "stack": ["a", "b"]}

    assert run("check", sent={**body, "length": "3"})[:2][0] == 0
    status, told, _ = run("check", sent={**body, "length": "3.1"})

    assert status == 3
    assert told.startswith("FAILED: wanted 3.1 in")
    assert "-0.1 in off" in told


def test_coverage_tells_gaps_and_what_would_help(run: Run) -> None:
    path = EXAMPLES / "coverage-depleted-request.json"

    status, told, _ = run("coverage", str(path))
    answer = json.loads(run("coverage", "--json", str(path))[1])

    assert status == 0
    found = answer["buildable"]["length_count"], answer["range"]["length_count"]
    assert told.startswith(f"{found[0]} of {found[1]} lengths")
    assert f"without {answer['losses'][0]['id']}" in told
    assert f"{answer['additions']['single_blocks'][0]['lengths_gained']} lengths more" in told


@pytest.mark.parametrize("name", ["certificate.csv", "certificate.json", "certificate.xml"])
def test_convert_gives_blocks_that_requests_take(run: Run, name: str) -> None:
    status, told, _ = run("convert", str(EXAMPLES / name))

    blocks = json.loads(told)["blocks"]
    wanted = [target("t", blocks[0]["nominal"])]
    body = {"unit": "mm", "blocks": blocks, "targets": wanted, "allow_overdue": True}
    assert status == 0
    assert run("solve", sent=body)[0] == 0


def test_a_certificate_that_cannot_be_read_is_refused_as_a_whole(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "lab.csv"
    path.write_text("number,size\n1,2\n")

    status, out, told = run("convert", str(path))

    assert (status, out) == (2, "")
    assert "line 1 has no column id" in told
    assert run("convert", str(tmp_path / "lab.txt"))[0] == 2


def without_extra(*arguments: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(  # noqa: S603 -- a fixed text, by this very interpreter
        [sys.executable, "-c", WITHOUT_EXTRA, *arguments],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )


def test_without_the_extra_everything_works_but_the_service() -> None:
    solved = without_extra("solve", "examples/requests/optimal.json")
    converted = without_extra("convert", str(EXAMPLES / "certificate.csv"))

    assert (solved.returncode, solved.stderr) == (0, "")
    assert "proven best" in solved.stdout
    assert (converted.returncode, converted.stderr) == (0, "")


@pytest.mark.parametrize("command", ["serve", "openapi"])
def test_without_the_extra_serve_says_how_to_get_it(command: str) -> None:
    ended = without_extra(command)

    assert (ended.returncode, ended.stdout) == (2, "")
    assert f"`wrung {command}` needs the packages of the extra `service`" in ended.stderr
    assert "pip install '.[service]'" in ended.stderr


class Ended(Struct):
    cancelled: bool


@pytest.mark.skipif(sys.platform == "win32", reason="no thread can be sent a signal there")
def test_ctrl_c_ends_the_search_which_answers_with_what_it_has() -> None:
    """The command goes on, and prints that."""

    def search(_: bytes, turn: Turn) -> Ended:
        signal.pthread_kill(threading.main_thread().ident or 0, signal.SIGINT)
        end = time.monotonic() + PATIENCE_S
        while not turn.cancel.cancelled and time.monotonic() < end:
            time.sleep(0.01)
        return Ended(cancelled=turn.cancel.cancelled)

    assert ask(search, b"{}") == Ended(cancelled=True)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_the_module_alone_starts_the_service() -> None:
    """As on Windows, where nobody has make."""
    environment = {**os.environ, "WRUNG_BIND_PORT": "0"}
    with subprocess.Popen(
        [sys.executable, "-m", "wrung_service"],
        env=environment,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdout is not None
        lines = map(json.loads, process.stdout)
        said = next(line for line in lines if line["event"] == "listening")
        process.terminate()

    assert said["url"] == f"http://127.0.0.1:{said['port']}/"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_shells_can_complete_commands(shell: str) -> None:
    """By the library's own means, as the help says."""
    told = subprocess.run(  # noqa: S603 -- our own
        [Path(sys.executable).with_name("wrung")],
        env={**os.environ, "_WRUNG_COMPLETE": f"{shell}_source"},
        capture_output=True,
        text=True,
        check=True,
    ).stdout

    assert "_WRUNG_COMPLETE" in told


def test_a_printed_plan_says_which_block_is_scarce(run: Run) -> None:
    """Both want the one 0.1001."""
    blocks = [block("a", "0.1001"), block("b", "1"), block("c", "2")]
    targets = [target("one", "1.1001"), target("two", "2.1001")]

    _, out, _ = run("solve", "-", sent=request(blocks=blocks, targets=targets))

    assert "Scarce: 0.1001 in (gauge block), 1 on the shelf." in out
