"""The builders and strategies that embedders test with."""

import subprocess
import sys

import pytest
from hypothesis import find, given
from hypothesis import strategies as st

from wrung import Block, LengthTarget, inch, mm, solve, uin
from wrung.answers import Outcome
from wrung.order import Order
from wrung.planning.problem import build_problem
from wrung.testing import Request, length_targets, make_blocks, make_targets, requests, shelves


def test_blocks_are_made_from_a_line_of_lengths() -> None:
    """As they would be written down, in one unit."""
    first, second = make_blocks("0.1001 0.250", unit="in", limit_deviation="5")

    assert first == Block(id="b0", nominal=inch("0.1001"), limit_deviation=uin("5"), unit="in")
    assert (second.id, second.nominal) == ("b1", inch("0.25"))


def test_wear_blocks_have_names_of_their_own() -> None:
    """So that they can stand beside gauge blocks in one request."""
    (block,) = make_blocks("2", role="wear")

    assert (block.id, block.role) == ("w0", "wear")


def test_targets_are_made_from_a_line_of_lengths() -> None:
    """Exact, without further wishes."""
    assert make_targets("2.011 25") == (
        LengthTarget(ref="t0", length=mm("2.011")),
        LengthTarget(ref="t1", length=mm("25")),
    )


@given(requests())
def test_every_request_is_valid_input(request_: Request) -> None:
    """No example makes `solve` raise for a fault in the input."""
    build_problem(
        Order(
            blocks=request_.blocks,
            targets=request_.targets,
            objective=request_.objective,
            joint_allowance=request_.joint_allowance,
            exclude=request_.exclude,
            only=request_.only,
        )
    )


@given(shelves(min_blocks=3, max_blocks=5), st.data())
def test_sizes_are_kept_to(shelf: tuple[Block, ...], data: st.DataObject) -> None:
    """As many blocks as asked for, and a target named as asked for."""
    target = data.draw(length_targets(shelf, ref="op10"))

    assert 3 <= len(shelf) <= 5
    assert target.ref == "op10"


@pytest.mark.parametrize("outcome", ["optimal", "partial", "infeasible"])
def test_the_requests_reach_every_outcome_that_needs_no_clock(outcome: Outcome) -> None:
    """Shelves that are too small and targets that compete are among the examples."""

    def reached(request_: Request) -> bool:
        return solve(request_.blocks, request_.targets).outcome == outcome

    assert find(requests(), reached)


def test_without_hypothesis_the_message_says_what_to_install() -> None:
    """The library itself does not need it."""
    code = "import sys; sys.modules['hypothesis'] = None; import wrung.testing"
    failed = subprocess.run(  # noqa: S603 -- a fixed text, by this very interpreter
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )

    assert "wrung.testing needs hypothesis: pip install hypothesis" in failed.stderr
