"""The example of inspection planning: every characteristic has its stacks, and the record holds."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import inspection_plan
import pytest

EXAMPLE = Path(inspection_plan.__file__)


@pytest.fixture(name="record", scope="module")
def _record(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The record of the plan that ships, which the example prints as well."""
    path = tmp_path_factory.mktemp("kept") / "record.json"
    done = run(str(EXAMPLE), "--record", str(path))
    assert done.returncode == 0, done.stderr
    assert sum(" µm  " in line for line in done.stdout.splitlines()) >= 30
    return path


def run(*arguments: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(  # noqa: S603 - our own
        [sys.executable, *arguments], capture_output=True, encoding="utf-8", check=False
    )


def check(record: Path) -> "subprocess.CompletedProcess[str]":
    return run("-m", "wrung_service", "check", str(record))


def test_thirty_characteristics_have_their_stacks_in_the_record(record: Path) -> None:
    kept: dict[str, Any] = json.loads(record.read_text("utf-8"))["record"]

    labels = {target["labels"]["characteristic"] for target in kept["targets"]}
    assert labels == {str(number) for number in range(1, 31)}
    assert {stack["target"] for stack in kept["stacks"]} == {t["target"] for t in kept["targets"]}
    assert kept["unmet"] == []


def test_the_record_holds_until_somebody_touches_it(record: Path, tmp_path: Path) -> None:
    assert "The record holds." in check(record).stdout

    kept = json.loads(record.read_text("utf-8"))
    kept["record"]["stacks"][0]["worst_case_error"] = "0.01"
    touched = tmp_path / "touched.json"
    touched.write_text(json.dumps(kept))

    done = check(touched)
    assert done.returncode == 3
    assert "The record does not hold." in done.stdout


def test_a_plan_with_a_slip_is_refused_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "plan.csv"
    lines = EXAMPLE.with_name("inspection").joinpath("plan.csv").read_text("utf-8").splitlines()
    path.write_text("\n".join([lines[0], "1,overall length,limits,,118.x,118.48,,"]))

    done = run(str(EXAMPLE), str(path))

    assert done.returncode == 2
    assert "/targets/0/lower: must be decimal text" in done.stderr
