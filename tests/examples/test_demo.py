"""The demo ends by itself, and leaves no server behind."""

import re
import socket
import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

DEMO = Path(__file__).parents[2] / "examples" / "demo.py"


@pytest.fixture(name="printed", scope="module")
def _printed() -> str:
    """What the demo prints."""
    command = [sys.executable, str(DEMO)]
    done = subprocess.run(  # noqa: S603 - our own
        command, capture_output=True, encoding="utf-8", timeout=90, check=True
    )
    return done.stdout


def test_every_operation_has_its_card(printed: str) -> None:
    """Seven cards, of which one says that it has no stack and comes again with the loan."""
    cards = re.findall(r"^op[0-9]0 .*? {3}(wanted|NO STACK)", printed, re.MULTILINE)
    assert (cards.count("wanted"), cards.count("NO STACK")) == (7, 1)


def test_each_stack_adds_up_to_what_was_wanted(printed: str) -> None:
    """Added up here from the printed lines; only op70 allows a difference, 0.0005 in."""
    cards = re.split(r"\n(?=op[0-9]0 .* wanted)", printed)[1:]
    assert cards
    for card in cards:
        head, *lines = card.split("\n       -")[0].splitlines()
        wanted = re.search(r"wanted ([0-9.]+)", head)
        lengths = [re.search(r"[0-9]+\.[0-9]+", line) for line in lines]
        total = sum(Decimal(length[0]) for length in lengths if length)
        allowed = Decimal("0.0005") if head.startswith("op70") else 0
        assert wanted
        assert abs(total - Decimal(wanted[1])) <= allowed, card


def test_the_summary_tells_both_tries(printed: str) -> None:
    assert "as it stands: partial, 6 of 7 stacks" in printed
    assert "with what is borrowed: optimal, 7 of 7 stacks" in printed


def test_the_server_is_gone(printed: str) -> None:
    port = re.search(r"answers at http://127\.0\.0\.1:([0-9]+)", printed)
    assert port
    with socket.socket() as probe:
        assert probe.connect_ex(("127.0.0.1", int(port[1]))) != 0
