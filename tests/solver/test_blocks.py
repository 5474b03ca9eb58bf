"""Blocks: which statement of its error counts."""

import pytest

from wrung.blocks import Block, margin
from wrung.errors import InputError
from wrung.lengths import inch, mm, uin, um


def test_the_margin_of_a_certified_block_is_its_expanded_uncertainty() -> None:
    """A certificate goes before limit deviation and grade."""
    block = Block(
        id="a",
        nominal=inch("0.1006"),
        unit="in",
        deviation=uin("1.2"),
        expanded_uncertainty=uin("2.0"),
        limit_deviation=uin("9"),
        grade="AS-2",
    )

    assert block.certified
    assert margin(block) == uin("2.0")


def test_a_certified_deviation_of_zero_is_a_certificate() -> None:
    block = Block(id="a", nominal=mm("1"), deviation=0, expanded_uncertainty=0)

    assert block.certified
    assert margin(block) == 0


def test_a_limit_deviation_goes_before_the_grade() -> None:
    block = Block(id="a", nominal=mm("1"), limit_deviation=um("0.5"), grade="0")

    assert not block.certified
    assert margin(block) == um("0.5")


def test_a_limit_deviation_of_zero_is_a_statement() -> None:
    """Zero is not taken for absent."""
    assert margin(Block(id="a", nominal=mm("1"), limit_deviation=0, grade="0")) == 0


def test_a_grade_is_read_in_the_system_of_the_blocks_unit() -> None:
    """10 mm in grade 1 of ISO 3650 is 0.20 um; 1 in in the federal grade 1 is 2 uin."""
    assert margin(Block(id="a", nominal=mm("10"), grade="1")) == um("0.20")
    assert margin(Block(id="a", nominal=inch("1"), grade="1", unit="in")) == uin("2")


def test_of_unequal_limits_the_larger_counts() -> None:
    """The federal grade 2 allows +4/-2 uin at 1 in."""
    assert margin(Block(id="a", nominal=inch("1"), grade="2", unit="in")) == uin("4")


@pytest.mark.parametrize(
    ("block", "pointer"),
    [
        (Block(id="a", nominal=mm("1")), ""),
        (Block(id="a", nominal=mm("1"), deviation=0), "/expanded_uncertainty"),
        (Block(id="a", nominal=mm("1"), deviation=0, grade="0"), "/expanded_uncertainty"),
        (Block(id="a", nominal=mm("1"), expanded_uncertainty=5, grade="0"), "/deviation"),
        (Block(id="a", nominal=mm("1"), grade="AS-9"), "/grade"),
        (Block(id="a", nominal=mm("0.4"), grade="0"), "/nominal"),
    ],
)
def test_a_block_without_a_usable_statement_is_refused(block: Block, pointer: str) -> None:
    """The pointer is relative to the block."""
    with pytest.raises(InputError) as caught:
        margin(block)

    assert [fault.pointer for fault in caught.value.faults] == [pointer]
