"""Stacks that others printed, planned anew: never with more blocks than the source needs.

A source builds its stack by clearing the last digit first, so fewer blocks may well be enough. The
fewest are worked out by the sets of bits of test_reachable_lengths.py and stand beside each.
"""

from math import radians, sin

import pytest

from wrung import GaugeSet, LengthTarget, inch, mm, solve

NPL = ("metric-112-1", "58.345", "1.005 1.04 1.30 5 50", 4)
"""National Physical Laboratory, FAQ on selecting gauge blocks (2010), from its M 112 set."""

MAKER = ("inch-81", "3.9762", ".1002 .126 .750 3.000", 4)
"""starrett-webber.com, use and care of gage blocks (text read on the web)."""

SINE_BAR = ("inch-81", "4.3301", ".1001 .130 .100 4", 4)
"""A solved exercise in a public collection of mathematical texts (Nemotron-CC-Math): a 5 in sine
bar at 60 degrees. It rounds the height to 4.3300; its blocks add up to 4.3301, as they should."""


def read(composition: str, text: str) -> int:
    text = f"0{text}" if text.startswith(".") else text
    return inch(text) if composition.startswith("inch") else mm(text)


@pytest.mark.parametrize(("composition", "length", "printed", "fewest"), [NPL, MAKER, SINE_BAR])
def test_no_more_blocks_than_the_source(
    composition: str, length: str, printed: str, fewest: int
) -> None:
    """The printed blocks are in the set and add up; the plan is proven and has the fewest."""
    crib = GaugeSet(id="crib", composition=composition, grade="0")
    nominals = [block.nominal for block in crib.blocks()]
    theirs = [read(composition, text) for text in printed.split()]
    wanted = read(composition, length)

    answer = solve(crib.blocks(), [LengthTarget(ref="t", length=wanted)], time_limit_ms=60_000)

    assert (sum(theirs), set(theirs) <= set(nominals)) == (wanted, True)
    assert (answer.outcome, answer.total_blocks) == ("optimal", fewest)
    assert answer.total_blocks <= len(theirs)


@pytest.mark.parametrize(("degrees", "height", "fewest"), [(60, "4.3301", 4), (27, "2.2700", 3)])
def test_a_five_inch_sine_bar_is_set(degrees: int, height: str, fewest: int) -> None:
    """Height by the sine; 27 degrees give 2.270 in on higherprecision.com (FAQ on sine bars).

    That 2.270 in needs three blocks, 2 in and 0.270 in of two, was worked out by hand.
    """
    assert f"{5 * sin(radians(degrees)):.3f}" == f"{float(height):.3f}"
    crib = GaugeSet(id="crib", composition="inch-81", grade="0")

    answer = solve(crib.blocks(), [LengthTarget(ref="t", length=inch(height))])

    assert (answer.outcome, answer.total_blocks) == ("optimal", fewest)


@pytest.mark.parametrize(
    ("composition", "length", "fewest"),
    [
        ("metric-112-1", "99.999", 4),
        ("metric-112-1", "3.0005", 2),
        ("metric-88-1", "17.4645", 5),
        ("metric-46-1", "58.345", 5),
        ("inch-81", "0.3456", 3),
        ("inch-36", "2.2699", 6),
        ("inch-34", "2.2699", 7),
    ],
)
def test_the_plan_has_the_fewest_blocks_that_sets_of_bits_find(
    composition: str, length: str, fewest: int
) -> None:
    """The figures of test_reachable_lengths.py, held against the library's own search."""
    crib = GaugeSet(
        id="crib", composition=composition, grade="AS-1" if "inch" in composition else "1"
    )
    target = LengthTarget(ref="t", length=read(composition, length))

    answer = solve(crib.blocks(), [target], time_limit_ms=60_000)

    assert (answer.outcome, answer.total_blocks) == ("optimal", fewest)
