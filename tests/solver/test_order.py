"""Wringing order: common practice, no source; the figures are the practice itself."""

from hypothesis import given
from hypothesis import strategies as st

from wrung import PlacedBlock, mm
from wrung.handwork.order import standing, wringing_order, wrung_onto


def gauge(text: str) -> PlacedBlock:
    """A gauge block named by its length."""
    return PlacedBlock(id=text, nominal=mm(text))


def wear(name: str, text: str = "2") -> PlacedBlock:
    """A wear block."""
    return PlacedBlock(id=name, nominal=mm(text), role="wear")


def names(*blocks: PlacedBlock) -> list[str]:
    """The ids in wringing order."""
    return [block.id for block in wringing_order(blocks)]


def test_the_longest_block_is_the_base_and_thin_ones_go_on_thick_ones() -> None:
    """1.005 + 1.3 + 6 + 50 stands on the 50."""
    assert names(gauge("1.3"), gauge("50"), gauge("1.005"), gauge("6")) == [
        "50",
        "6",
        "1.3",
        "1.005",
    ]


def test_one_wear_block_is_wrung_on_last() -> None:
    """Even where it is the thickest of all: a wear block is never the base."""
    assert names(wear("w", "5"), gauge("1"), gauge("3")) == ["3", "1", "w"]


def test_two_wear_blocks_come_last_and_stand_at_both_ends() -> None:
    """The first goes onto the last gauge block, the second onto the free face of the base."""
    blocks = wringing_order([wear("w2"), gauge("3"), wear("w1"), gauge("10")])

    assert [block.id for block in blocks] == ["10", "3", "w1", "w2"]
    assert [block.id for block in standing(blocks)] == ["w2", "10", "3", "w1"]
    assert [wrung_onto(blocks, k).id for k in (1, 2, 3)] == ["10", "3", "10"]


def test_wear_blocks_alone_are_wrung_onto_each_other() -> None:
    blocks = wringing_order([wear("w2"), wear("w1")])

    assert [block.id for block in standing(blocks)] == ["w1", "w2"]
    assert wrung_onto(blocks, 1).id == "w1"


@given(st.permutations([gauge("1"), gauge("2"), gauge("50"), wear("w1"), wear("w2")]))
def test_the_order_does_not_depend_on_how_the_blocks_are_given(blocks: list[PlacedBlock]) -> None:
    """The same blocks are always wrung in the same order."""
    assert names(*blocks) == ["50", "2", "1", "w1", "w2"]
