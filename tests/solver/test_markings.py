"""How sizes stand on gauge blocks: as usual in their unit, or as their set is marked."""

import pytest

from wrung import Block, LengthTarget, inch, mm, solve
from wrung.markings import Marking, engraved
from wrung.stack_drawing import draw_stack, drawn


@pytest.mark.parametrize(
    ("size", "marked"),
    [
        ("0.05", ".050"),
        ("0.5", ".500"),
        ("0.1001", ".1001"),
        ("0.100025", ".100025"),
        ("1", "1"),
        ("2.5", "2.5"),
    ],
)
def test_a_size_below_one_inch_has_thousandths_and_no_nought(size: str, marked: str) -> None:
    """Common practice, no source; the same in every language."""
    assert engraved(inch(size), "in", ",") == marked


@pytest.mark.parametrize(("size", "marked"), [("0.5", "0,5"), ("1.005", "1,005"), ("100", "100")])
def test_metric_sizes_are_written_as_the_reader_does(size: str, marked: str) -> None:
    """Common practice, no source: makers differ."""
    assert engraved(mm(size), "mm", ",") == marked


def test_a_drawing_shows_blocks_as_their_set_is_marked() -> None:
    odd = Marking(leading_zero=True, decimals=4, decimal_sign=",", source="invented", checked="no")
    shelf = [
        Block(id=name, nominal=inch(size), limit_deviation=0, unit="in", set=name)
        for name, size in (("a", "0.5"), ("b", "0.125"))
    ]
    (stack,) = solve(shelf, [LengthTarget(ref="x", length=inch("0.625"))]).stacks

    drawing = draw_stack(drawn(stack, shelf, unit="in", markings={"a": odd}))

    assert ">0,5000</text>" in drawing
    assert ">.125</text>" in drawing
