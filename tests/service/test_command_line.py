"""The console command: what it prints, what it ends with, and what it needs."""

import io
import json
import os
import re
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
from wrung_service.__main__ import main
from wrung_service.commands.asking import ask
from wrung_service.commands.language import usual_language
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


class Run:
    """Runs commands in this process."""

    def __init__(
        self, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        self._capsys, self._monkeypatch, self._tmp_path = capsys, monkeypatch, tmp_path

    def __call__(self, *arguments: str, sent: object = None) -> tuple[int, str, str]:
        """Exit status, standard output, standard error; what is sent goes to standard input."""
        if sent is not None:
            text = sent if isinstance(sent, str) else json.dumps(sent)
            stdin = io.TextIOWrapper(io.BytesIO(text.encode()))
            self._monkeypatch.setattr(sys, "stdin", stdin)
        status = main(arguments)
        told = self._capsys.readouterr()
        return status, told.out, told.err


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    return Run(capsys, monkeypatch, tmp_path)


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


def test_version_is_that_of_the_package(run: Run) -> None:
    """The first thing to say in a report of a fault."""
    assert run("--version") == (0, f"wrung {wrung.__version__}\n", "")


@pytest.mark.parametrize(
    ("targets", "status", "said"),
    [
        (["3"], 0, "Optimal: 1 stack, 2 blocks in all, proven best."),
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
        said = json.loads(process.stdout.readline())
        process.terminate()

    assert said["event"] == "listening"
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


def test_compare_prints_what_each_of_two_sets_builds(run: Run) -> None:
    """From 0.3 in to 4 in the figures of `tests/reference/test_reachable_lengths.py`."""
    between = ("--from", "0.3", "--to", "4")

    status, told, _ = run("compare", "inch-81", "inch-36", *between)

    assert status == 0
    rows = [line.split() for line in told.splitlines()]
    assert ["4", "blocks", "23373", "9263"] in rows
    assert ["7", "blocks", "0", "729"] in rows
    assert "37001 lengths from 0.3 to 4 in in steps of 0.0001" in told
    assert "Both build 37001, neither builds 0." in told


def test_compare_says_what_a_missing_block_costs(run: Run) -> None:
    """Against the whole set; what only the whole one builds starts with the block itself."""
    _, told, _ = run("compare", "inch-81", "inch-81", "--missing", "0.1004", "--to", "0.2")

    assert "inch-81, 1 missing" in told
    assert "  0.1004 in (1)" in told.splitlines()


def test_compare_takes_shelves_in_files_and_their_sets(run: Run, tmp_path: Path) -> None:
    """One set of a request, what a crib printed as JSON and CSV, and a damaged block."""
    sets = [{"id": "K1", "composition": "inch-36", "missing": ["0.1002"]}]
    spare = {"id": "K2/0.5", "set": "K2", "nominal": "0.5", "grade": "2"}
    damaged = {"id": "K2/4", "set": "K2", "nominal": "4", "grade": "2", "condition": "damaged"}
    shelf, table = tmp_path / "shelf.json", tmp_path / "shelf.csv"
    shelf.write_text(json.dumps({"unit": "in", "sets": sets, "blocks": [spare, damaged]}))
    table.write_text("id,set,nominal,unit,grade\nK2/0.5,K2,0.5,in,2\n")

    _, whole, _ = run("compare", "inch-36", f"{shelf}:K1", "--to", "0.2")
    _, halves, _ = run("compare", f"{shelf}:K2", str(table))
    status, _, refused = run("compare", f"{shelf}:K3", "inch-36")

    assert "shelf.json:K1" in whole
    assert "  0.1002 in (1)" in whole.splitlines()
    assert "1 lengths from 0.5 to 0.5 in" in halves
    assert "Both build 1, neither builds 0." in halves
    assert (status, "no gauge block" in refused) == (2, True)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("inch-81", "inch-36-O50"), "inch-36-050"),
        (("inch-81", "inch-36", "--missing", "7"), "has no block of 7 in"),
        (("inch-81", "inch-36", "--step", "1/8"), "1/8"),
        (("inch-81", "inch-36", "--from", "5"), "is less than start"),
    ],
)
def test_compare_refuses_with_a_reason(run: Run, arguments: tuple[str, ...], said: str) -> None:
    status, _, told = run("compare", *arguments)

    assert status == 2
    assert said in told


def test_trend_tells_the_drift_of_each_block(run: Run, tmp_path: Path) -> None:
    """Two certificates a year apart, worked out by hand; the limits of grade 0 end the last one."""
    header = "id,nominal,deviation,expanded_uncertainty,calibrated_on,due_on,grade\n"
    first, second = tmp_path / "2025.csv", tmp_path / "2026.csv"
    first.write_text(header + "a,5,0.00,0.02,2025-03-01,2026-03-01,0\nb,5,0,0.02,,,0\n")
    second.write_text(header + "a,5,0.10,0.02,2026-03-01,2027-03-01,0\nb,5,0,0.02,,,0\n")

    status, told, _ = run("trend", str(first), str(second))

    assert status == 0
    assert "a: 2 calibrations, 2025-03-01 to 2026-03-01" in told
    # 0.1 um in 365 days, times 365.25 over 365; U is the root of 0.02 squared twice.
    assert "0.1 µm a year, ± 0.0283 µm (k = 2)" in told
    # 0.02 um are left: 0.02 / 0.1284 years, 56 days.
    assert "last day of use: 2026-04-26 (after that it may be outside its limits)" in told
    assert "b: no drift" in told

    second.write_text(header + "a,5,0.30,0.02,2026-03-01,2027-03-01,0\n")
    _, told, _ = run("trend", str(first), str(second))
    assert "last day of use: 2026-03-01 (it may be outside its limits already)" in told


def test_commands_speak_german_where_they_are_told_to(run: Run, tmp_path: Path) -> None:
    """Stacks, what is missing, both sets side by side, and drifts; figures with a comma."""
    asked = request(
        blocks=[block("a", "0.1001"), block("b", "1", role="wear")],
        targets=[target("one", "1.1001", wear_blocks="one"), target("two", "2.1001")],
        record=True,
    )
    header = "id,nominal,deviation,expanded_uncertainty,calibrated_on\n"
    for year in (2025, 2026):
        text = f"{header}a,5,0.0{year % 10},0.02,{year}-03-01\n"
        (tmp_path / f"{year}.csv").write_text(text)
    files = [str(tmp_path / f"{year}.csv") for year in (2025, 2026)]

    told = [
        run("solve", "--language", "de", "-", sent=asked)[1],
        run("solve", "-", sent={**asked, "language": "de"})[1],
        run("compare", "--language", "de", "inch-81", "inch-36", "--to", "0.2")[1],
        run("trend", "--language", "de", *files)[1],
        run("compare", "--language", "de", "inch-81", "inch-36-O50")[2],
    ]

    assert told[0] == told[1]
    answer = json.loads(run("solve", "--json", "--language", "de", "-", sent=asked)[1])
    assert answer["record"]["request"]["language"] == "en"
    assert "Abweichung" in told[0]
    assert "1,1001 in" in told[0]
    assert "0,01 µm im Jahr" in told[3]
    for text in told:
        assert not re.search(r"\b(the|of|with|is|blocks?|lengths|year|days?|no|known)\b", text), (
            text
        )
        assert not re.search(r"\d\.\d", re.sub(r"\S*/\S*", "", text)), text


@pytest.mark.parametrize(
    ("variables", "language"),
    [
        ({"LANG": "de_DE.UTF-8"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, "en"),
        ({"LANG": "fr_FR.UTF-8"}, "en"),
        ({"LC_MESSAGES": "de_AT", "LANG": "en_GB"}, "de"),
        ({}, "en"),
    ],
)
def test_a_command_speaks_as_its_terminal_does(
    monkeypatch: pytest.MonkeyPatch, variables: dict[str, str], language: str
) -> None:
    for name in ("LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in variables.items():
        monkeypatch.setenv(name, value)

    assert usual_language() == language


def test_trend_refuses_two_blocks_under_one_id(run: Run, tmp_path: Path) -> None:
    header = "id,nominal,deviation,expanded_uncertainty\n"
    first, second = tmp_path / "2025.csv", tmp_path / "2026.csv"
    first.write_text(header + "a,5,0,0.02\n")
    second.write_text(header + "a,6,0,0.02\n")

    status, _, told = run("trend", str(first), str(second))

    assert (status, "another nominal length" in told) == (2, True)
