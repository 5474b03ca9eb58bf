"""The day in the crib ends by itself, and no block is in two stacks at one time."""

import re
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from patience import PATIENCE_S

DAY = Path(__file__).parents[2] / "examples" / "crib_day.py"


@pytest.fixture(name="printed", scope="module")
def _printed() -> str:
    """What the demo prints."""
    done = subprocess.run(  # noqa: S603 - our own
        [sys.executable, str(DAY)],
        capture_output=True,
        encoding="utf-8",
        timeout=PATIENCE_S,
        check=True,
    )
    return done.stdout


def test_every_stack_adds_up(printed: str) -> None:
    sums = re.findall(r"([0-9.]+) mm = ([0-9.]+(?: \+ [0-9.]+)*)", printed)
    assert len(sums) >= 4
    for length, blocks in sums:
        assert sum(map(Decimal, blocks.split(" + "))) == Decimal(length)


def test_the_race_gives_no_block_twice(printed: str) -> None:
    """A set of 88 has each of these lengths once."""
    race = printed.partition("At one moment")[2].partition("\n\n")[0]
    blocks = [each.split(" + ") for each in re.findall(r"= ([0-9.]+(?: \+ [0-9.]+)*)", race)]
    assert len(blocks) == 2
    assert not {*blocks[0]} & {*blocks[1]}


def test_who_has_the_only_block_is_told(printed: str) -> None:
    refused = printed.partition("6104: refused, 409")[2].partition("\n\n")[0]
    assert "bench-1/1.0005 is promised to job 6103" in refused


def test_the_damaged_block_leaves_the_later_plan_and_is_recalled(printed: str) -> None:
    back = printed.partition("brings its stack back")[2].partition("\n\n")[0]
    assert "bench-1/1.001, damaged, burr" in back
    assert "The plan of job 6120 counts on bench-1/1.001" in back
    anew = printed.partition("Job 6120 is planned anew")[2].partition("\n\n")[0]
    assert "31.001 mm" in anew
    assert "1.001" not in anew.partition("=")[2].split(" + ")
    winner = re.search(r"(610[12]): has it: 21\.001 mm = 20 \+ 1\.001", printed)
    assert winner
    recall = printed.partition("which jobs used bench-1/1.001")[2]
    assert re.findall(r"job (\d+)", recall) == [winner[1]]
