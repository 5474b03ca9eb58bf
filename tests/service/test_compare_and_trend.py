"""The commands that look at sets and certificates, and the language in which commands speak."""

import json
import re
from pathlib import Path

import pytest

from service.bodies import block, request, target
from service.conftest import Run
from wrung_service.commands.language import usual_language


def test_compare_prints_what_each_of_two_sets_builds(run: Run) -> None:
    """From 0.3 in to 4 in the figures of `tests/reference/test_reachable_lengths.py`."""
    between = ("--from", "0.3", "--to", "4")

    status, told, _ = run("compare", "inch-81", "inch-36", *between)

    assert status == 0
    rows = [line.split() for line in told.splitlines()]
    assert ["4", "blocks", "23373", "9263"] in rows
    assert ["7", "blocks", "0", "729"] in rows
    assert "Lengths from 0.3 to 4 in, step 0.0001: 37001" in told
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
    assert "Lengths from 0.5 to 0.5 in, step 0.5: 1" in halves
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
